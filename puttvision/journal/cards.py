"""Scorecards in the journal: kept with the exact rules, and scored anew when a putt is corrected."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import replace

from sqlalchemy import delete, insert, select
from sqlalchemy.orm import Session

from puttvision.drill.load import parse_rules
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options, Rules
from puttvision.drill.scorecard import Scorecard as Card
from puttvision.drill.scorecard import score
from puttvision.drill.tally import points_number, points_text
from puttvision.drill.words import several
from puttvision.errors import DrillError, JournalError
from puttvision.journal.tables import RulesText, Scorecard, ScorecardLine
from puttvision.putts import Putt


def add_card(session: Session, session_id: int, card: Card, rules_text: str) -> bool:
    """Keep a scorecard of a session; False where the same drill with the same options is kept already."""
    options = json.dumps(card.to_json()["options"], sort_keys=True)
    same = select(Scorecard.id).where(
        Scorecard.session_id == session_id,
        Scorecard.drill == card.rules.name,
        Scorecard.options_text == options,
    )
    if session.scalar(same) is not None:
        return False
    row = Scorecard(
        session_id=session_id,
        drill=card.rules.name,
        title=card.rules.title,
        options_text=options,
        rules_id=_rules_id(session, rules_text),
        stake=card.rules.stake or None,
    )
    session.add(_filled(row, card))
    session.flush()
    _add_lines(session, row.id, card)
    return True


def rules_of(session: Session, row: Scorecard) -> Rules:
    """The rules as they were in force; JournalError where this program cannot read them."""
    kept = session.get_one(RulesText, row.rules_id)
    try:
        rules = parse_rules(kept.text, f"{row.drill}.toml")
        rules = with_options(rules, Options(**json.loads(row.options_text)))
    except (DrillError, TypeError) as err:
        raise JournalError(f"the rules kept with {row.title} cannot be read: {err}") from err
    return replace(rules, stake=row.stake or "")


def score_again(session: Session, rows: Iterable[Scorecard], putts: tuple[Putt, ...]) -> tuple[Card, ...]:
    """Score the drills of a session from ``putts`` in playing order, and put the result in their place."""
    cards = []
    for row in rows:
        card = score(rules_of(session, row), putts)
        _filled(row, card)
        session.execute(delete(ScorecardLine).where(ScorecardLine.scorecard_id == row.id))
        _add_lines(session, row.id, card)
        cards.append(card)
    return tuple(cards)


def difference(old: Card, new: Card) -> str:
    """What became of a drill, in a line: ``Ball gate: 16.5 points, now 17 points; 13 putts made, ...``."""

    def made(card: Card) -> str:
        return several(sum(totals.made_in_all for totals in card.totals), "putt") + " made"

    pairs = [
        (points_text(old.points or 0) + " points", points_text(new.points or 0) + " points"),
        (made(old), made(new)),
        (several(old.counted, "putt") + " counted", several(new.counted, "putt") + " counted"),
        (_streak(old), _streak(new)),
        (_restarts(old), _restarts(new)),
        (str(old.state), str(new.state)),
    ]
    moved = [f"{before}, now {after}" for before, after in pairs if before != after]
    return f"{new.rules.title}: {'; '.join(moved) or 'as before'}"


def _filled(row: Scorecard, card: Card) -> Scorecard:
    data = card.to_json()
    row.state, row.counted, row.points = card.state, card.counted, data["points"]
    row.made = sum(totals.made_in_all for totals in card.totals)
    row.restarts, row.best_streak, row.time_s = data["restarts"], data["best_streak"], data["time_s"]
    return row


def _add_lines(session: Session, scorecard_id: int, card: Card) -> None:
    lines = []
    for line in card.lines:
        step, played = line.step, line.step.setting
        lines.append(
            {
                "scorecard_id": scorecard_id,
                "putt": line.putt,
                "stage": step.stage + 1,
                "made": step.kind == "made",
                "points": points_number(step.points) if card.rules.gives_points else None,
                "restarted": step.restarted,
                "distance_m": played.distance.metres if played.distance else None,
                "grip": played.grip,
                "ball": played.ball,
                "side": played.side,
                "from_side": played.from_,
                "slope": played.slope,
                "gate_mm": played.gate_mm,
                "forfeit": step.forfeit,
            }
        )
    if lines:
        session.execute(insert(ScorecardLine), lines)


def _rules_id(session: Session, text: str) -> int:
    text_hash = hashlib.sha256(text.encode()).hexdigest()
    found = session.scalar(select(RulesText.id).where(RulesText.text_hash == text_hash))
    if found is not None:
        return found
    row = RulesText(text_hash=text_hash, text=text)
    session.add(row)
    session.flush()
    return row.id


def _streak(card: Card) -> str:
    return f"best streak {max(totals.best_streak for totals in card.totals)}"


def _restarts(card: Card) -> str:
    return several(sum(totals.restarts for totals in card.totals), "restart")
