"""A card in the journal: kept once it is over, and put right there where it was put right later."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from puttvision.cli.keeping import Keeping
from puttvision.drill.scorecard import Scorecard
from puttvision.drill.words import several
from puttvision.errors import ConflictError, JournalError
from puttvision.files import write_json
from puttvision.putts import PuttSheet

_MARK_FILE = ".card.kept"
"""Beside the card: the number of its session, and which putts were kept."""


def keep_card(keeping: Keeping, folder: Path, sheet: PuttSheet, card: Scorecard, rules_text: str) -> str:
    """Keep a card that is over, and say in a line what was done.

    A card kept before and changed since takes the place of what was kept: one card is one session.
    """
    from puttvision.journal.record import hash_of_sheet, record
    from puttvision.journal.store import opened

    if card.rules.two_players:
        return _keep_match(keeping, folder, sheet, card, rules_text)
    mark, mine = _read(folder / _MARK_FILE), hash_of_sheet(sheet, keeping.day)
    with opened(keeping.where, make=False) as journal:
        known = mark.get("session")
        if mark.get("player") == keeping.player and mark.get("putts") != mine and isinstance(known, int):
            said = _put_right(journal, known, keeping, mark.get("putts"), sheet)
            if said is not None:
                if said.startswith("put right"):
                    write_json(folder / _MARK_FILE, mark | {"putts": mine})
                return said
        kept = record(
            journal,
            keeping.player,
            sheet,
            day=keeping.day,
            card=card,
            rules_text=rules_text,
            place=keeping.played_at,
        )
    write_json(folder / _MARK_FILE, {"session": kept.session, "player": keeping.player, "putts": mine})
    return keeping.said(kept, sheet)


def _keep_match(keeping: Keeping, folder: Path, sheet: PuttSheet, card: Scorecard, rules_text: str) -> str:
    """Keep a drill for two for both players; what was kept of this card before goes."""
    from puttvision.journal.matches import record_match
    from puttvision.journal.record import hash_of_sheet
    from puttvision.journal.store import opened

    mark, mine = _read(folder / _MARK_FILE), hash_of_sheet(sheet, keeping.day)
    names = " and ".join(card.rules.two_players.names) if card.rules.two_players else keeping.player
    if mark.get("putts") == mine:
        return f"known already: these putts of {names} were kept; nothing was added"
    before = [number for number in mark.get("sessions", []) if isinstance(number, int)]
    with opened(keeping.where, make=False) as journal:
        try:
            kept = record_match(
                journal,
                sheet.putts,
                card,
                rules_text,
                day=keeping.day,
                place=keeping.played_at,
                instead_of=before,
            )
        except ConflictError as err:
            return f"not kept again: {err}"
    write_json(folder / _MARK_FILE, {"sessions": [one.session for one in kept], "putts": mine})
    did = "put right" if before else "kept"
    return f"{did} in the journal: {names}, {keeping.day}, {several(len(sheet.putts), 'putt')}"


def _put_right(journal: Any, known: int, keeping: Keeping, before: Any, sheet: PuttSheet) -> str | None:
    """Put the card as it is now in the place of what was kept; None where that session is gone."""
    from puttvision.journal.again import measured_again
    from puttvision.journal.corrections import measured_sheet
    from puttvision.journal.record import hash_of_sheet

    try:
        if hash_of_sheet(measured_sheet(journal, known), keeping.day) != before:
            return None
    except JournalError:
        return None
    try:
        measured_again(journal, known, sheet, 0)
    except ConflictError:
        return "not kept again: putts of this card were corrected in the journal since; correct it there"
    return f"put right in the journal: {keeping.player}, {keeping.day}, {several(len(sheet.putts), 'putt')}"


def _read(path: Path) -> dict[str, Any]:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return data if isinstance(data, dict) else {}
