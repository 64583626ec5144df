"""Keeping a session: putts and a scorecard become rows of the journal, all of them or none."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from puttvision.drill.scorecard import Scorecard as Card
from puttvision.drill.tally import points_number
from puttvision.errors import JournalError
from puttvision.journal.people import find_player, require_consent
from puttvision.journal.store import Store
from puttvision.journal.tables import Player, PuttRow, RulesText, Scorecard, ScorecardLine
from puttvision.journal.tables import Session as SessionRow
from puttvision.putts import Figure, Putt, PuttSheet, to_json

FIGURES = (
    "start_s", "hole_distance_m", "start_direction_to_hole_deg", "start_direction_to_gate_deg",
    "launch_speed_m_s", "gate_offset_mm", "hole_offset_mm", "speed_at_hole_m_s", "run_out_m",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What keeping a session did."""

    session: int
    day: date
    new_session: bool
    """False: the same clip or list was in the journal already; its putts were not doubled."""
    new_scorecard: bool


def record(
    store: Store,
    player: str,
    sheet: PuttSheet,
    *,
    day: date,
    card: Card | None = None,
    rules_text: str = "",
    clip: Path | None = None,
) -> Kept:
    """Keep the putts of ``sheet``, and the drill scored from them, as one session of ``player``.

    The same clip (by its bytes, its measured putts, or its name, length and number of frames) is
    recognised, and so is the same list by hand of the same day: then only a drill not yet scored
    from it is added. Raises JournalError for an unknown player, filming without consent, or a
    drill for two.
    """
    if card is not None and card.rules.two_players:
        raise JournalError("a drill for two is not kept: score it without --player")
    clip_hash = None if clip is None else hash_of_file(clip)
    sheet_hash = hash_of_sheet(sheet, day)
    with store.writing() as session:
        row = find_player(session, player)
        require_consent(row, filmed=sheet.clip is not None)
        kept = _same(session, row, sheet, sheet_hash, clip_hash)
        new_session = kept is None
        if kept is None:
            kept = _session_row(row, sheet, sheet_hash, clip_hash, clip, day)
            session.add(kept)
            session.flush()
            session.add_all(putt_row(putt, kept.id) for putt in sheet.putts)
        new_scorecard = card is not None and _add_card(session, kept, card, rules_text)
        return Kept(session=kept.id, day=kept.day, new_session=new_session, new_scorecard=new_scorecard)


def hash_of_file(path: Path) -> str:
    """SHA-256 of a file's bytes, read in pieces."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as err:
        raise JournalError(f"cannot read {path}: {err.strerror or err}") from err


def hash_of_sheet(sheet: PuttSheet, day: date) -> str:
    """SHA-256 of the putts; of a list by hand with its day, as two days may well go alike."""
    data: list[Any] = [to_json(sheet)]
    if sheet.clip is None:
        data.append(day.isoformat())
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()


def putt_row(putt: Putt, session_id: int) -> PuttRow:
    """A putt as a row of the journal."""
    figures: dict[str, float | None] = {}
    for key in FIGURES:
        figures |= _figure(key, getattr(putt, key))
    if putt.rest:
        figures |= _figure("rest_along_m", putt.rest.along_m) | _figure("rest_right_m", putt.rest.right_m)
    return PuttRow(
        session_id=session_id,
        number=putt.number,
        outcome=putt.outcome,
        gate_result=putt.gate_result,
        lipped=putt.lipped,
        miss_side=putt.miss_side,
        miss_length=putt.miss_length,
        confidence=putt.confidence,
        review=list(putt.review) or None,
        **figures,
    )


def _figure(key: str, figure: Figure) -> dict[str, float | None]:
    return {key: figure.value, f"{key}_u95": figure.u95}


def _same(
    session: Session, player: Player, sheet: PuttSheet, sheet_hash: str, clip_hash: str | None
) -> SessionRow | None:
    alike = [SessionRow.sheet_hash == sheet_hash]
    if clip_hash:
        alike.append(SessionRow.clip_hash == clip_hash)
    if sheet.clip and sheet.clip.file and sheet.clip.frames:
        alike.append(
            (SessionRow.clip_file == sheet.clip.file)
            & (SessionRow.clip_frames == sheet.clip.frames)
            & (SessionRow.clip_duration_s == sheet.clip.duration_s)
        )
    query = select(SessionRow).where(SessionRow.player_id == player.id, or_(*alike))
    return session.scalars(query.order_by(SessionRow.id)).first()


def _session_row(
    player: Player, sheet: PuttSheet, sheet_hash: str, clip_hash: str | None, clip: Path | None, day: date
) -> SessionRow:
    figures = _figure("stimp_ft", sheet.green.stimp_ft) if sheet.green else {}
    if sheet.gate:
        for key in ("distance_m", "width_mm", "square_deg"):
            figures |= _figure(f"gate_{key}", getattr(sheet.gate, key))
    return SessionRow(
        player_id=player.id,
        day=day,
        kept_at=datetime.now(UTC),
        sheet_hash=sheet_hash,
        clip_hash=clip_hash,
        clip_file=sheet.clip.file if sheet.clip else None,
        clip_path=str(clip.resolve()) if clip else None,
        clip_duration_s=sheet.clip.duration_s if sheet.clip else None,
        clip_frames=sheet.clip.frames if sheet.clip else None,
        note="",
        **figures,
    )


def _add_card(session: Session, kept: SessionRow, card: Card, rules_text: str) -> bool:
    """Add a scorecard; False where the same drill with the same options was scored already."""
    data = card.to_json()
    options = json.dumps(data["options"], sort_keys=True)
    same = select(Scorecard.id).where(
        Scorecard.session_id == kept.id,
        Scorecard.drill == card.rules.name,
        Scorecard.options_text == options,
    )
    if session.scalar(same) is not None:
        return False
    row = Scorecard(
        session_id=kept.id,
        drill=card.rules.name,
        title=card.rules.title,
        options_text=options,
        rules_id=_rules_id(session, rules_text),
        state=card.state,
        counted=card.counted,
        made=sum(totals.made_in_all for totals in card.totals),
        points=data["points"],
        restarts=data["restarts"],
        best_streak=data["best_streak"],
        time_s=data["time_s"],
    )
    session.add(row)
    session.flush()
    for line in card.lines:
        step, played = line.step, line.step.setting
        session.add(
            ScorecardLine(
                scorecard_id=row.id,
                putt=line.putt,
                stage=step.stage + 1,
                made=step.kind == "made",
                points=points_number(step.points) if card.rules.gives_points else None,
                restarted=step.restarted,
                distance_m=played.distance.metres if played.distance else None,
                grip=played.grip,
                ball=played.ball,
                side=played.side,
                from_side=played.from_,
                slope=played.slope,
                gate_mm=played.gate_mm,
                forfeit=step.forfeit,
            )
        )
    return True


def _rules_id(session: Session, text: str) -> int:
    text_hash = hashlib.sha256(text.encode()).hexdigest()
    found = session.scalar(select(RulesText.id).where(RulesText.text_hash == text_hash))
    if found is not None:
        return found
    row = RulesText(text_hash=text_hash, text=text)
    session.add(row)
    session.flush()
    return row.id
