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
from puttvision.drill.scorecard import score
from puttvision.errors import JournalError
from puttvision.journal.cards import add_card
from puttvision.journal.corrections import stands_in
from puttvision.journal.people import find_player, require_consent
from puttvision.journal.places import find_place
from puttvision.journal.rows import putt_row, sheet_columns
from puttvision.journal.store import Store
from puttvision.journal.tables import Player
from puttvision.journal.tables import Session as SessionRow
from puttvision.putts import PuttSheet, to_json


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
    place: str | None = None,
) -> Kept:
    """Keep the putts of ``sheet``, and the drill scored from them, as one session of ``player``.

    The same clip (by its bytes, its measured putts, or its name, length and number of frames) is
    recognised, and so is the same list by hand of the same day: then only a drill not yet scored
    from it is added. Raises JournalError for an unknown player or place, filming without consent,
    or a drill for two.
    """
    clip_hash = None if clip is None else hash_of_file(clip)
    with store.writing() as session:
        return keep_in(
            session,
            player,
            sheet,
            day=day,
            card=card,
            rules_text=rules_text,
            clip=clip,
            clip_hash=clip_hash,
            place=place,
        )


def keep_in(
    session: Session,
    player: str,
    sheet: PuttSheet,
    *,
    day: date,
    card: Card | None = None,
    rules_text: str = "",
    clip: Path | None = None,
    clip_hash: str | None = None,
    place: str | None = None,
    label: str = "",
) -> Kept:
    """As `record`, within a transaction that may keep more; ``label`` tells lists of one day apart."""
    if card is not None and card.rules.two_players:
        raise JournalError("a drill for two is not kept: score it without --player")
    row = find_player(session, player)
    require_consent(row, filmed=sheet.clip is not None)
    place_id = find_place(session, place).id if place else None
    sheet_hash = hash_of_sheet(sheet, day, label)
    kept = _same(session, row, sheet, sheet_hash, clip_hash)
    new_session = kept is None
    if kept is None:
        kept = _session_row(row, sheet, sheet_hash, clip_hash, clip, day)
        kept.place_id = place_id
        session.add(kept)
        session.flush()
        session.add_all(putt_row(putt, kept.id) for putt in sheet.putts)
        session.flush()
    elif card is not None:  # a session kept earlier may have been corrected since
        card = score(card.rules, stands_in(session, kept.id).putts)
    new_scorecard = card is not None and add_card(session, kept.id, card, rules_text)
    return Kept(session=kept.id, day=kept.day, new_session=new_session, new_scorecard=new_scorecard)


def hash_of_file(path: Path) -> str:
    """SHA-256 of a file's bytes, read in pieces."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as err:
        raise JournalError(f"cannot read {path}: {err.strerror or err}") from err


def hash_of_sheet(sheet: PuttSheet, day: date, label: str = "") -> str:
    """SHA-256 of the putts; of a list by hand with its day, as two days may well go alike."""
    data: list[Any] = [to_json(sheet)]
    if sheet.clip is None:
        data.append(day.isoformat())
        data += [label] if label else []
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()


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
    return SessionRow(
        player_id=player.id,
        day=day,
        kept_at=datetime.now(UTC),
        sheet_hash=sheet_hash,
        clip_hash=clip_hash,
        clip_path=str(clip.resolve()) if clip else None,
        note="",
        **sheet_columns(sheet),
    )
