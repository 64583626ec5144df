"""A report of a session that the journal keeps: as it stands, with all corrections."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from puttvision.drill.rules import Rules
from puttvision.drill.scorecard import Scorecard, score
from puttvision.journal.corrections import as_it_stands
from puttvision.journal.history import session_facts
from puttvision.journal.store import Store
from puttvision.putts import PuttSheet
from puttvision.review.next_words import next_lines
from puttvision.review.report.before import find
from puttvision.review.report.page import Report


def of_session(store: Store, session_id: int, rules: Rules | None) -> Report:
    """The session's report; ``rules``: another drill than the first one kept with it.

    Raises JournalError for an unknown session.
    """
    facts = session_facts(store, session_id)
    stands = as_it_stands(store, session_id)
    sheet = stands.sheet
    if rules is None and stands.cards:
        rules = stands.cards[0].rules
    card = score(rules, sheet.putts) if rules else None
    report = Report(sheet=sheet, card=card, player=facts.player, day=in_words(facts.day))
    return against_the_journal(report, store, facts.day, session_id)


def of_player(
    store: Store, player: str, sheet: PuttSheet, card: Scorecard | None, day: date | None
) -> Report:
    """The report of putts that the journal need not have yet, of a player whom it knows."""
    report = Report(sheet=sheet, card=card, player=player, day=in_words(day) if day else "")
    return against_the_journal(report, store, day, None)


def against_the_journal(report: Report, store: Store, day: date | None, session_id: int | None) -> Report:
    """Add the session before, and what all putts on record say to practise next."""
    drill = report.card.rules.name if report.card else None
    putts, player = report.sheet.putts, report.player
    before = find(store, player, drill, day, putts, report.card, session_id)
    return replace(
        report,
        changes=before.changes if before else (),
        before=before.words if before else "",
        advice=next_lines(store, player),
    )


def in_words(day: date) -> str:
    """``30 April 2026``."""
    return f"{day.day} {day:%B %Y}"
