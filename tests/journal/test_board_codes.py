"""Codes for the notice board."""

import re

import pytest

from puttvision.errors import JournalError
from puttvision.journal import board_codes as module
from puttvision.journal.board_codes import board_codes
from puttvision.journal.people import add_player, change_player
from puttvision.journal.store import opened


def test_codes_are_kept_unlike_each_other_and_follow_a_new_name(tmp_path):
    with opened(str(tmp_path / "j.db")) as store:
        names = [f"player {n}" for n in range(60)]
        for name in names:
            add_player(store, name)
        first = board_codes(store, names[:30])
        change_player(store, names[0], new_name="Ines")
        again = board_codes(store, ["Ines", *names[1:]])
    assert again["Ines"] == first[names[0]]
    assert {name: again[name] for name in names[1:30]} == {name: first[name] for name in names[1:30]}
    assert len(set(again.values())) == 60
    assert all(re.fullmatch("[B-Z][2-9][B-Z]", code) for code in again.values())


def test_codes_are_drawn_not_reckoned_from_the_name(tmp_path):
    def drawn(file):
        with opened(str(tmp_path / file)) as store:
            for n in range(20):
                add_player(store, f"player {n}")
            return board_codes(store, [f"player {n}" for n in range(20)])

    assert drawn("one.db") != drawn("two.db")


def test_a_taken_code_is_not_drawn_again(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "LETTERS", "B")
    monkeypatch.setattr(module, "DIGITS", "2")
    with opened(str(tmp_path / "j.db")) as store:
        add_player(store, "Ines")
        add_player(store, "Oluf")
        assert board_codes(store, ["Ines"]) == {"Ines": "B2B"}
        with pytest.raises(JournalError, match="no free code"):
            board_codes(store, ["Oluf"])
