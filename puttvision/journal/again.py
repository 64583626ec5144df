"""A kept session again: measured anew from the same clip, or scored by one more drill."""

from __future__ import annotations

from dataclasses import replace

from sqlalchemy import delete, select

from puttvision.drill.rules import Rules
from puttvision.drill.scorecard import score
from puttvision.errors import ConflictError, JournalError
from puttvision.journal.cards import add_card, score_again
from puttvision.journal.corrections import Corrected, as_it_stands, find_session, stands_in
from puttvision.journal.record import hash_of_sheet
from puttvision.journal.rows import putt_row, sheet_columns
from puttvision.journal.store import Store
from puttvision.journal.tables import Correction, PuttRow
from puttvision.journal.tables import Session as SessionRow
from puttvision.putts import PuttSheet


def measured_again(store: Store, session_id: int, sheet: PuttSheet, seen_version: int) -> Corrected:
    """Put a new measurement of the same clip in the place of the old one, and score its drills anew.

    Corrections were said of the old putts and go with them; notes stay.

    Raises
    ------
    ConflictError
        Somebody corrected a putt since ``seen_version``; nothing is changed.
    JournalError
        No such session, or these putts are kept as another session of the player.
    """
    with store.writing() as session:
        row = find_session(session, session_id)
        now = stands_in(session, session_id)
        if now.version != seen_version:
            last = now.events[-1]
            raise ConflictError(f"putt {last.putt} was corrected by {last.who} in the meantime: look first")
        sheet_hash = hash_of_sheet(sheet, row.day)
        same = select(SessionRow.id).where(
            SessionRow.player_id == row.player_id,
            SessionRow.sheet_hash == sheet_hash,
            SessionRow.id != session_id,
        )
        if (other := session.scalar(same)) is not None:
            raise JournalError(f"these putts are kept as session {other} already")
        session.execute(delete(PuttRow).where(PuttRow.session_id == session_id))
        session.execute(delete(Correction).where(Correction.session_id == session_id))
        row.sheet_hash = sheet_hash
        # a gate or a hole that was found before and is not now must not stay behind
        columns = dict.fromkeys(sheet_columns(replace(now.measured, putts=()))) | sheet_columns(sheet)
        for key, value in columns.items():
            setattr(row, key, value)
        session.add_all(putt_row(putt, session_id) for putt in sheet.putts)
        session.flush()
        score_again(session, row.scorecards, sheet.putts)
    return as_it_stands(store, session_id)


def score_drill(store: Store, session_id: int, rules: Rules, rules_text: str) -> bool:
    """Score one more drill from the putts as they stand; False where it is scored already.

    Raises JournalError for an unknown session or a drill for two.
    """
    if rules.two_players:
        raise JournalError("a drill for two is not kept in one player's journal")
    with store.writing() as session:
        card = score(rules, stands_in(session, session_id).putts)
        return add_card(session, session_id, card, rules_text)
