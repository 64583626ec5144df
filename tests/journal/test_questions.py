"""The quick way to read a journal gives what SQLAlchemy gives, and refuses what it refuses."""

import shutil
import sqlite3
from contextlib import closing
from datetime import date

import pytest

from puttvision.drill import catalogue
from puttvision.drill.scorecard import score
from puttvision.errors import JournalError
from puttvision.journal.corrections import add_putt, correct
from puttvision.journal.history import cards_of, putts_of, session_facts, sessions_of
from puttvision.journal.people import add_player
from puttvision.journal.places import put_place
from puttvision.journal.questions import ReadFile, opened_to_read
from puttvision.journal.record import record
from puttvision.journal.store import opened
from puttvision.putts import Figure, Gate, Putt, PuttSheet, Rest

GATE = "ball-gate-points"


def sheet(n, shift):
    missed = Rest(along_m=Figure(3.4, 0.02), right_m=Figure(-0.1, 0.02))
    putts = tuple(
        Putt(
            number=k,
            outcome="holed" if (k + shift) % 3 else "missed",
            gate_result="clear",
            lipped=(k + shift) % 3 == 0,
            rest=None if (k + shift) % 3 else missed,
            start_s=Figure(10.0 * k, 0.01),
            review=("the end is hidden",) if k == 2 else (),
        )
        for k in range(1, n + 1)
    )
    return PuttSheet(
        putts=putts, gate=Gate(distance_m=Figure(0.45), width_mm=Figure(65.0), square_deg=Figure())
    )


@pytest.fixture
def path(tmp_path, made_file):
    found = tmp_path / "Ines & co.db"
    shutil.copy(made_file, found)
    with opened(str(found)) as store:
        for name in ("Ines", "Oluf"):
            add_player(store, name, consent=True)
        put_place(store, "Quillow Park 3", stimp_ft=Figure(9.8, 0.3))
        for number, player in enumerate(("Ines", "Oluf", "Ines")):
            putts = sheet(20, number)
            card = score(catalogue.load(GATE), putts.putts)
            kept = record(store, player, putts, day=date(2026, 5, 4 + number), card=card,
                          rules_text=catalogue.text(GATE), place="Quillow Park 3")  # fmt: skip
        correct(store, kept.session, 3, "outcome", "missed", "Coach", "seen", 0)
        add_putt(store, kept.session, Putt(number=1, outcome="holed"), "Coach", "", 1)
    return found


def test_both_ways_give_the_same(path):
    with opened(str(path)) as store, opened_to_read(str(path)) as quick:
        assert isinstance(quick, ReadFile)
        for ask in (
            lambda one: putts_of(one, "Ines"),
            lambda one: putts_of(one, "Ines", drill=GATE, since=date(2026, 5, 5), until=date(2026, 5, 6)),
            lambda one: sessions_of(one),
            lambda one: sessions_of(one, "Ines", limit=1),
            lambda one: session_facts(one, 2),
            lambda one: cards_of(one, ["Oluf", "Ines"], GATE, since=date(2026, 5, 5)),
            lambda one: cards_of(one, [], GATE),
        ):
            assert repr(ask(quick)) == repr(ask(store))
        assert len(putts_of(quick, "Ines")) == 41
        assert putts_of(quick, "Ines")[0].putt == sheet(1, 0).putts[0]
        with pytest.raises(JournalError, match='did you mean "Ines"'):
            putts_of(quick, "Inez")


def test_reading_changes_nothing_and_sees_what_is_written_meanwhile(path):
    before = path.read_bytes()
    with opened_to_read(str(path)) as quick:
        with quick.asking() as ask, pytest.raises(sqlite3.OperationalError):
            ask("DELETE FROM players", {})
        assert path.read_bytes() == before
        with opened(str(path)) as store:
            add_player(store, "Ada")
        assert putts_of(quick, "Ada") == []


def test_a_store_that_is_not_ours_newer_or_damaged_is_refused(path, tmp_path):
    with (
        pytest.raises(JournalError, match="there is no journal at"),
        opened_to_read(str(tmp_path / "none.db")),
    ):
        pass
    other = tmp_path / "other.db"
    other.write_text("Ines;20;14\n" * 20)
    with pytest.raises(JournalError, match="is no journal, or is damaged"), opened_to_read(str(other)):
        pass
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9000'")
        connection.commit()
    with pytest.raises(JournalError, match="newer puttvision"), opened_to_read(str(path)):
        pass
    spoiled = bytearray(path.read_bytes())
    spoiled[4096:] = b"\x5a" * (len(spoiled) - 4096)
    path.write_bytes(bytes(spoiled))
    with pytest.raises(JournalError, match="is damaged"), opened_to_read(str(path)) as quick:
        putts_of(quick, "Ines")
