"""A drill for two in the journal: each player's own putts, scored as his half, with the result as a note."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from puttvision.drill.load import parse_rules
from puttvision.drill.options import with_options
from puttvision.drill.rules import Rules
from puttvision.drill.scorecard import Scorecard, score
from puttvision.errors import ConflictError, DrillError
from puttvision.journal.people import find_player
from puttvision.journal.record import Kept, keep_in
from puttvision.journal.store import Store
from puttvision.journal.tables import Correction, Note
from puttvision.journal.tables import Session as SessionRow
from puttvision.putts import Putt, PuttSheet

_TWO = re.compile(r"^\[two_players\][^\n]*\n.*?(?=^\[|\Z)", re.MULTILINE | re.DOTALL)


def record_match(
    store: Store,
    putts: Sequence[Putt],
    card: Scorecard,
    rules_text: str,
    *,
    day: date,
    place: str | None = None,
    instead_of: Sequence[int] = (),
) -> tuple[Kept, Kept]:
    """Keep a drill for two by hand, for both players or for neither; each gets a session of his putts.

    ``instead_of``: sessions an earlier state of the same card was kept as; they go in the same
    transaction. Raises JournalError for an unknown player or place, ConflictError where a coach has
    corrected one of those sessions since.
    """
    two = card.rules.two_players
    if two is None:
        raise ValueError(f"a drill for two was due, got {card.rules.name}")
    alone, text = half(card.rules, rules_text)
    with store.writing() as session:
        players = [find_player(session, name) for name in two.names]
        _remove(session, instead_of)
        kept = []
        for side, player in enumerate(players):
            numbers = {line.putt for line in card.lines if line.step.side == side}
            mine = tuple(putt for putt in putts if putt.number in numbers)
            own = score(alone, mine) if alone is not None else None
            label = f"{card.rules.name} against {players[1 - side].id}"
            one = keep_in(
                session,
                player.name,
                PuttSheet(putts=mine),
                day=day,
                card=own,
                rules_text=text,
                place=place,
                label=label,
            )
            if one.new_session:
                said = f"{card.rules.title}, against {two.names[1 - side]}: {card.what_next}"
                session.add(Note(session_id=one.session, at=datetime.now(UTC), who="", text=said))
            kept.append(one)
        return kept[0], kept[1]


def half(rules: Rules, text: str) -> tuple[Rules | None, str]:
    """A drill for two as one of them plays it, and its text; None where it is nothing for one alone."""
    text = _TWO.sub("", text)
    options = replace(rules.options, players=None)
    try:
        alone = with_options(parse_rules(text, rules.name), options)
    except DrillError:
        return None, ""
    return (alone, text) if alone.two_players is None else (None, "")


def _remove(session: Session, numbers: Sequence[int]) -> None:
    corrected = session.scalar(
        select(func.count()).select_from(Correction).where(Correction.session_id.in_(numbers))
    )
    if corrected:
        raise ConflictError("putts of this card were corrected in the journal since; correct it there")
    for number in numbers:
        row = session.get(SessionRow, number)
        if row is not None:
            session.delete(row)
    session.flush()
