"""Backup in one file while in use; restore only of what is whole, with the old journal kept."""

import random
import sqlite3
import threading
from datetime import date

import pytest

from puttvision.drill import catalogue
from puttvision.drill.scorecard import score
from puttvision.errors import JournalError
from puttvision.journal.backup import back_up, restore
from puttvision.journal.corrections import as_it_stands, correct
from puttvision.journal.groups import add_group, list_groups
from puttvision.journal.history import putts_of, sessions_of
from puttvision.journal.notes import add_note, notes_of
from puttvision.journal.people import add_player, list_players
from puttvision.journal.places import list_places, put_place
from puttvision.journal.record import record
from puttvision.journal.store import opened
from puttvision.putts import Figure, Putt, PuttSheet

DRILL = "ball-gate-points"


def keep(store, player, day):
    putts = tuple(
        Putt(number=k, outcome="holed" if (k + day) % 3 else "missed", gate_result="clear", review=("look",))
        for k in range(1, 21)
    )
    card = score(catalogue.load(DRILL), putts)
    when = date.fromordinal(740000 + day)
    return record(
        store, player, PuttSheet(putts=putts), day=when, card=card, rules_text=catalogue.text(DRILL)
    ).session


def fill(store):
    for name in ("Ines", "Oluf"):
        add_player(store, name, consent=True)
    put_place(store, "Quillow Park 3", stimp_ft=Figure(9.8, 0.3))
    add_group(store, "Tuesday", ["Ines", "Oluf"])
    number = keep(store, "Ines", 1)
    correct(store, number, 2, "outcome", "holed", "Coach", "seen from the side", 0)
    add_note(store, "head still", "Coach", session_id=number, putt=3)
    return number


def everything(store):
    return (
        list_players(store),
        list_groups(store),
        list_places(store),
        notes_of(store),
        [as_it_stands(store, one.id).events for one in sessions_of(store)],
        sessions_of(store),
        putts_of(store, "Ines"),
    )


def test_back_and_forth(journal, where, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    fill(journal)
    before = everything(journal)
    copy = tmp_path / "copies" / "b.db"
    back_up(journal, copy)
    assert [found.name for found in copy.parent.iterdir()] == ["b.db"]
    with opened(str(copy)) as looked:
        assert everything(looked) == before
    keep(journal, "Oluf", 2)
    add_player(journal, "Later")
    later = everything(journal)
    done = restore(copy, where)
    assert (done.n_players, done.n_sessions, done.n_putts) == (2, 1, 20)
    assert everything(journal) == before
    with opened(str(done.kept_old)) as old:
        assert everything(old) == later
    # New rows get numbers of their own.
    add_player(journal, "Afterwards")
    keep(journal, "Afterwards", 3)
    assert len(list_players(journal)) == 3


def test_from_a_file_to_postgresql(tmp_path, postgresql, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with opened(str(tmp_path / "j.db")) as store:
        fill(store)
        before = everything(store)
        back_up(store, tmp_path / "b.db")
    assert restore(tmp_path / "b.db", postgresql).kept_old is None
    with opened(postgresql) as store:
        assert everything(store) == before
        keep(store, "Oluf", 5)


def test_backup_while_another_writes_holds_whole_sessions(journal, tmp_path):
    fill(journal)
    stop, failed = threading.Event(), []

    def write():
        for day in range(10, 10_000):
            if stop.is_set():
                return
            try:
                keep(journal, "Oluf", day)
            except Exception as err:
                failed.append(err)
                return

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(3):
            copy = tmp_path / f"b{number}.db"
            back_up(journal, copy)
            with sqlite3.connect(copy) as raw:
                halves = raw.execute(
                    "SELECT s.id FROM sessions s LEFT JOIN putts p ON p.session_id = s.id "
                    "GROUP BY s.id HAVING count(p.id) != 20"
                ).fetchall()
            raw.close()
            assert halves == []
    finally:
        stop.set()
        writer.join()
    assert failed == []


def _text(path):
    path.write_text("no journal " * 30)


def _damaged(path):
    data = bytearray(path.read_bytes())
    data[8000:40000] = random.Random(1).randbytes(32000)
    path.write_bytes(data)


def _newer(path):
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.close()


def _not_there(path):
    path.unlink()


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        pytest.param(_text, "no journal, or is damaged", id="text"),
        pytest.param(_damaged, "damaged", id="damaged"),
        pytest.param(_newer, "newer puttvision", id="newer"),
        pytest.param(_not_there, "there is no file", id="not there"),
    ],
)
def test_unfit_backup_changes_nothing(tmp_path, spoil, says):
    path, copy = tmp_path / "j.db", tmp_path / "b.db"
    with opened(str(path)) as store:
        fill(store)
        back_up(store, copy)
        add_player(store, "Later")
        before = everything(store)
    spoil(copy)
    with pytest.raises(JournalError, match=says) as caught:
        restore(copy, str(path))
    assert "\n" not in str(caught.value)
    with opened(str(path)) as store:
        assert everything(store) == before
    assert not list(tmp_path.glob("*before-restore*"))


def test_a_damaged_journal_is_moved_away_and_replaced(tmp_path):
    path, copy = tmp_path / "j.db", tmp_path / "b.db"
    with opened(str(path)) as store:
        fill(store)
        before = everything(store)
        back_up(store, copy)
    _text(path)
    done = restore(copy, str(path))
    assert done.kept_old.read_text().startswith("no journal")
    with opened(str(path)) as store:
        assert everything(store) == before


def test_neither_itself_nor_another_file_is_overwritten(tmp_path):
    path = tmp_path / "j.db"
    with opened(str(path)) as store:
        fill(store)
        with pytest.raises(JournalError, match="is the journal itself"):
            back_up(store, path)
        (tmp_path / "letter.txt").write_text("Dear club")
        with pytest.raises(JournalError, match="no journal"):
            back_up(store, tmp_path / "letter.txt")
        with pytest.raises(JournalError, match="is a folder"):
            back_up(store, tmp_path)
    assert (tmp_path / "letter.txt").read_text() == "Dear club"
    with pytest.raises(JournalError, match="is the journal itself"):
        restore(path, str(path))
