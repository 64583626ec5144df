"""Codes that stand for players on a notice board: drawn at random, kept, the same from week to week."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

from sqlalchemy import select

from puttvision.errors import JournalError
from puttvision.journal.people import find_player
from puttvision.journal.store import Store
from puttvision.journal.tables import Player

LETTERS, DIGITS = "BCDFGHJKMNPQRTVWXZ", "2346789"
"""None that is taken for another on a board across the room, and no vowels: no code is a word."""


def board_codes(store: Store, players: Sequence[str]) -> dict[str, str]:
    """Each player's code, such as ``K7R``; who has none yet is given one. Nothing of the name is in it.

    Raises JournalError for an unknown player, or where no free code is left.
    """
    with store.writing() as session:
        taken = {code for code in session.scalars(select(Player.board_code)) if code is not None}
        found = {}
        for name in players:
            player = find_player(session, name)
            if player.board_code is None:
                player.board_code = _free(taken)
                taken.add(player.board_code)
            found[name] = player.board_code
        return found


def _free(taken: set[str]) -> str:
    if len(taken) >= len(LETTERS) ** 2 * len(DIGITS):
        raise JournalError("no free code for the notice board is left: forget players who have gone")
    while True:
        code = secrets.choice(LETTERS) + secrets.choice(DIGITS) + secrets.choice(LETTERS)
        if code not in taken:
            return code
