"""A card in the journal: one card is one session, however often it is opened, closed and put right."""

from dataclasses import replace
from datetime import date

import pytest
from card_keys import play, rules
from typer.testing import CliRunner

from puttvision.card.card import scorecard, sheet
from puttvision.cli.app import app
from puttvision.cli.card_keeping import keep_card
from puttvision.cli.keeping import Keeping
from puttvision.drill.catalogue import text
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.errors import JournalError
from puttvision.journal.corrections import correct
from puttvision.journal.history import putts_of, sessions_of
from puttvision.journal.notes import notes_of
from puttvision.journal.people import add_player
from puttvision.journal.places import put_place
from puttvision.journal.store import opened

pytest.importorskip("pexpect", reason="a pseudo-terminal takes a POSIX system")
from card_terminal import Terminal

DRILL = "must-make-finish"


@pytest.fixture
def keeping(tmp_path):
    where = str(tmp_path / "journal.db")
    with opened(where) as journal:
        add_player(journal, "Oluf", hand="left", consent=False)
    return Keeping(player="Oluf", source=tmp_path / "putts.json", day=date(2026, 5, 4), where=where)


def keep(keeping, folder, keys):
    card = play(rules(DRILL), keys)
    return keep_card(keeping, folder, sheet(card), scorecard(card), text(DRILL))


def kept(keeping):
    with opened(keeping.where) as journal:
        return sessions_of(journal, keeping.player)


TEN = "m m m m m m m x x x "


def test_a_card_closed_twice_is_kept_once(keeping, tmp_path):
    assert keep(keeping, tmp_path, TEN + "m") == "kept in the journal: Oluf, 2026-05-04, 11 putts"
    assert "nothing was added" in keep(keeping, tmp_path, TEN + "m")
    assert len(kept(keeping)) == 1


def test_a_card_put_right_takes_the_place_of_what_was_kept(keeping, tmp_path):
    keep(keeping, tmp_path, TEN + "m")
    longer = "x " + TEN + "m"  # one putt more, entered after an undo all the way
    assert keep(keeping, tmp_path, longer.replace("x x x m", "x x m")) == (
        "put right in the journal: Oluf, 2026-05-04, 11 putts"
    )
    assert "nothing was added" in keep(keeping, tmp_path, longer.replace("x x x m", "x x m"))
    (session,) = kept(keeping)
    assert len(session.cards) == 1


def test_another_card_of_the_day_is_another_session(keeping, tmp_path):
    keep(keeping, tmp_path / "a", TEN + "m")
    keep(keeping, tmp_path / "b", "x " + TEN + "m")
    assert len(kept(keeping)) == 2


def test_what_was_corrected_in_the_journal_is_not_overwritten(keeping, tmp_path):
    keep(keeping, tmp_path, TEN + "m")
    (session,) = kept(keeping)
    with opened(keeping.where) as journal:
        correct(journal, session.id, 1, "outcome", "missed", who="coach", why="saw it", seen_version=0)
    assert "correct it there" in keep(keeping, tmp_path, "x m m m m m m m x x m")
    assert len(kept(keeping)) == 1


def test_a_session_taken_out_of_the_journal_is_kept_anew(keeping, tmp_path):
    keep(keeping, tmp_path, TEN + "m")
    empty = replace(keeping, where=str(tmp_path / "other.db"))
    with opened(empty.where) as journal:
        add_player(journal, "Oluf", hand="left", consent=False)
    assert "kept in the journal" in keep(empty, tmp_path, "x m m m m m m m x x m")


def test_a_card_is_kept_with_its_place(keeping, tmp_path):
    with opened(keeping.where) as journal:
        put_place(journal, "practice green")
    keep(replace(keeping, played_at="practice green"), tmp_path, TEN + "m")
    assert [session.place for session in kept(keeping)] == ["practice green"]


def match(keeping, folder, keys):
    two = with_options(rules("race-to-ten"), Options(players=("Ines", "Oluf"), target=2))
    card = play(two, keys)
    return keep_card(keeping, folder, sheet(card), scorecard(card), text("race-to-ten"))


def test_a_drill_for_two_is_kept_for_both(keeping, tmp_path):
    with opened(keeping.where) as journal:
        add_player(journal, "Ines")
    assert match(keeping, tmp_path, "m x m x") == "kept in the journal: Ines and Oluf, 2026-05-04, 4 putts"
    assert "nothing was added" in match(keeping, tmp_path, "m x m x")
    with opened(keeping.where) as journal:
        for name, outcomes, points, against in (
            ("Ines", ["holed", "holed"], 2, "Oluf"),
            ("Oluf", ["missed", "missed"], 0, "Ines"),
        ):
            (session,) = sessions_of(journal, name)
            assert session.cards[0].points == points
            played = putts_of(journal, name)
            assert [one.putt.outcome for one in played] == outcomes
            assert {round(one.line.distance_m, 3) for one in played} == {1.524}  # 5 ft
            (note,) = notes_of(journal, session_id=session.id)
            assert f"against {against}" in note.text
            assert "Ines" in note.text
        (lost,) = sessions_of(journal, "Oluf")
        fixed = correct(journal, lost.id, 2, "outcome", "holed", "Coach", "", 0)
        assert fixed.cards[0].totals[0].made == 1
    assert "correct it there" in match(keeping, tmp_path, "m x x x m x")


def test_a_match_put_right_takes_the_place_of_what_was_kept(keeping, tmp_path):
    with opened(keeping.where) as journal:
        add_player(journal, "Ines")
    match(keeping, tmp_path, "m x m x")
    assert match(keeping, tmp_path, "x x m x m x").startswith("put right in the journal: Ines and Oluf")
    with opened(keeping.where) as journal:
        assert [session.n_putts for session in sessions_of(journal)] == [3, 3]


def test_a_match_with_a_stranger_is_kept_for_neither(keeping, tmp_path):
    with pytest.raises(JournalError, match='no player "Ines"'):
        match(keeping, tmp_path, "m x m x")
    assert kept(keeping) == []


@pytest.mark.slow
def test_from_the_first_key_to_the_journal_and_back(tmp_path):
    store, folder = tmp_path / "journal.db", tmp_path / "card"
    CliRunner().invoke(app, ["players", "add", "Oluf", "--no-consent", "--store", str(store)])
    CliRunner().invoke(app, ["places", "add", "practice green", "--store", str(store)])
    words = ("head-gate-streak", "--target", 2, "--out", folder, "--store", store, "--player")
    with Terminal(*words, "Olof", columns=200) as card:
        assert card.end() == 1
        assert 'did you mean "Oluf"' in card.text
    assert not folder.exists()
    with Terminal(*words, "Oluf", "--date", "2026-05-04", "--place", "practice green", columns=200) as card:
        card.wait_for("make two")
        card.type("m")
        card.wait_for("of 2")
        card.type("q")
        assert card.end() == 0
        assert b"once the drill is over" in card.raw
    with Terminal("--resume", "--out", folder, columns=200) as card:
        card.wait_for("1 putt here")
        card.type("m")
        card.wait_for("FINISHED")
        card.type("q")
        assert card.end() == 0
        assert b"kept in the journal: Oluf, 2026-05-04, 2 putts" in card.raw
    with Terminal("--resume", "--out", folder, columns=200) as card:
        card.wait_for("FINISHED")
        card.type("u x m m")
        card.wait_for("FINISHED", "Finished after 4 putts")
        card.type("q")
        assert card.end() == 0
        assert b"put right in the journal: Oluf, 2026-05-04, 4 putts" in card.raw
    with opened(str(store)) as journal:
        (session,) = sessions_of(journal, "Oluf")
    assert (session.day, session.place) == (date(2026, 5, 4), "practice green")


@pytest.mark.parametrize(
    ("words", "code", "why"),
    [
        pytest.param(["race-to-ten", "--player", "Oluf"], 1, "is kept for both", id="for two"),
        pytest.param(
            ["lag-zone", "--date", "2026-05-04"], 2, "--date goes with --player", id="date of nobody"
        ),
        pytest.param(
            ["lag-zone", "--place", "practice green"], 2, "--place goes with --player", id="place of nobody"
        ),
        pytest.param(
            ["lag-zone", "--player", "Oluf", "--place", "moon"], 1, 'no place "moon"', id="unknown place"
        ),
        pytest.param(["lag-zone", "--player", "Ines"], 1, 'no player "Ines"', id="not in the journal"),
    ],
)
def test_what_cannot_be_kept_is_told_before_the_first_putt(keeping, tmp_path, words, code, why):
    done = CliRunner().invoke(app, ["card", *words, "--out", str(tmp_path / "c"), "--store", keeping.where])
    assert done.exit_code == code
    assert why in f"{done.output} {done.exception}"
    assert not (tmp_path / "c").exists()
