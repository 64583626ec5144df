"""The session before, from the journal, and what has changed since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from puttvision.drill.scorecard import Scorecard
from puttvision.journal.history import SessionFacts, putts_of, sessions_of
from puttvision.journal.store import Store
from puttvision.putts import Putt
from puttvision.review.report import figures
from puttvision.review.report.changes import Change
from puttvision.review.report.changes import changes as compared


@dataclass(frozen=True, slots=True)
class Before:
    """What has changed since the session before."""

    words: str
    """Which session that was."""
    changes: tuple[Change, ...]


def find(
    store: Store,
    player: str,
    drill: str | None,
    day: date | None,
    putts: Sequence[Putt],
    card: Scorecard | None,
    session_id: int | None = None,
) -> Before | None:
    """The latest other session of the player up to ``day`` (None: of all), in the same drill where one was
    played, and kept before ``session_id`` where the putts are that session's; None where there is none."""
    held = {(putt.start_s.value, putt.outcome) for putt in putts}
    for facts in reversed(sessions_of(store, player, until=day, drill=drill)):
        if session_id is not None and day is not None and (facts.day, facts.id) >= (day, session_id):
            continue
        old = [
            p.putt
            for p in putts_of(store, player, since=facts.day, until=facts.day)
            if p.session.id == facts.id
        ]
        if not old or {(putt.start_s.value, putt.outcome) for putt in old} == held:
            continue  # this very session, kept already
        changes = compared(figures.session(putts), figures.session(old), (_points(facts, drill), _now(card)))
        return Before(f"{facts.day.day} {facts.day:%B %Y}, {len(old)} putts", tuple(changes))
    return None


def _points(facts: SessionFacts, drill: str | None) -> float | None:
    return next((card.points for card in facts.cards if card.drill == drill), None)


def _now(card: Scorecard | None) -> float | None:
    return None if card is None or card.points is None else card.points / 100
