"""The journal's store: schema, upgrades, files it must not touch, and what a kill leaves."""

import hashlib
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from puttvision.errors import JournalError
from puttvision.journal import store as store_module
from puttvision.journal.people import add_player, list_players
from puttvision.journal.store import default_file, open_store, opened, place
from puttvision.journal.tables import Base


def digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def differences(connection):
    """What the tables of a store lack against the models.

    SQLAlchemy does not read the name and the ON DELETE of a foreign key that SQLite was given with a
    column (sessions.place_id): that one is looked at here.
    """
    keys = connection.exec_driver_sql("PRAGMA foreign_key_list(sessions)").all()
    assert ("places", "place_id", "SET NULL") in [(key[2], key[3], key[6]) for key in keys]
    found = compare_metadata(MigrationContext.configure(connection), Base.metadata)
    return [one for one in found if not (one[0].endswith("_fk") and "place_id" in one[1].columns)]


def test_migrations_make_the_tables_of_the_models(tmp_path):
    with opened(str(tmp_path / "j.db")) as store, store.engine.connect() as connection:
        assert differences(connection) == []


def test_sqlite_is_in_wal_with_foreign_keys(tmp_path):
    with opened(str(tmp_path / "j.db")) as store, store.engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1


def test_place_option_then_variable_then_own_folder(monkeypatch):
    monkeypatch.setenv("PUTTVISION_STORE", "from-variable.db")
    assert place("given.db") == "given.db"
    assert place() == "from-variable.db"
    monkeypatch.delenv("PUTTVISION_STORE")
    assert place() == str(default_file())


def test_newer_store_is_left_as_it_is(tmp_path):
    path = tmp_path / "j.db"
    open_store(str(path)).close()
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE alembic_version SET version_num = '9999'")
    raw.close()
    before = digest(path)
    with pytest.raises(JournalError, match="newer puttvision"):
        open_store(str(path))
    assert digest(path) == before
    assert [found.name for found in tmp_path.glob("*.db")] == ["j.db"]


def _other_program(path):
    with sqlite3.connect(path) as raw:
        raw.execute("CREATE TABLE recipes (id INTEGER)")
    raw.close()


def _marked_by_other(path):
    with sqlite3.connect(path) as raw:
        raw.execute("PRAGMA application_id = 77")
        raw.execute("CREATE TABLE recipes (id INTEGER)")
    raw.close()


def _no_database(path):
    path.write_text("a shopping list, " * 20)


def _cut_short(path):
    open_store(str(path)).close()
    path.write_bytes(path.read_bytes()[:50])


def _schema_overwritten(path):
    open_store(str(path)).close()
    data = bytearray(path.read_bytes())
    data[100:4000] = bytes(random.Random(3).randbytes(3900))
    path.write_bytes(data)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        pytest.param(_other_program, "holds other tables", id="other tables"),
        pytest.param(_marked_by_other, "belongs to another program", id="other mark"),
        pytest.param(_no_database, "no journal, or is damaged", id="text file"),
        pytest.param(_cut_short, "no journal, or is damaged", id="cut short"),
        pytest.param(_schema_overwritten, "is damaged", id="first page overwritten"),
    ],
)
def test_unfit_file_is_left_as_it_is(tmp_path, make, says):
    path = tmp_path / "j.db"
    make(path)
    before = digest(path)
    with pytest.raises(JournalError, match=says) as caught:
        open_store(str(path))
    assert "\n" not in str(caught.value)
    assert digest(path) == before


def test_older_store_is_upgraded_with_a_copy_beside_it(tmp_path, monkeypatch):
    path = tmp_path / "j.db"
    with opened(str(path)) as store:
        add_player(store, "Ines")
    later = tmp_path / "later"
    shutil.copytree(store_module._MIGRATIONS, later)
    (later / "versions" / "9000_later.py").write_text(
        "import sqlalchemy as sa\nfrom alembic import op\nrevision = '9000'\ndown_revision = '0002'\n"
        "def upgrade():\n    op.add_column('players', sa.Column('extra', sa.String()))\n"
    )
    monkeypatch.setattr(store_module, "_MIGRATIONS", later)
    with opened(str(path)) as store:
        assert [one.name for one in list_players(store)] == ["Ines"]
        with store.engine.connect() as connection:
            assert connection.exec_driver_sql("SELECT extra FROM players").scalar() is None
    copies = list(tmp_path.glob("j.schema-0002.*.db"))
    assert len(copies) == 1
    monkeypatch.undo()
    with opened(str(copies[0])) as copy:
        assert [one.name for one in list_players(copy)] == ["Ines"]


def test_failed_upgrade_changes_nothing(tmp_path, monkeypatch):
    path = tmp_path / "j.db"
    with opened(str(path)) as store:
        add_player(store, "Ines")
    later = tmp_path / "later"
    shutil.copytree(store_module._MIGRATIONS, later)
    (later / "versions" / "9000_later.py").write_text(
        "from alembic import op\nrevision = '9000'\ndown_revision = '0002'\n"
        "def upgrade():\n    op.execute('DROP TABLE scorecard_lines')\n    raise RuntimeError('power cut')\n"
    )
    with monkeypatch.context() as patched:
        patched.setattr(store_module, "_MIGRATIONS", later)
        with pytest.raises(RuntimeError, match="power cut"):
            open_store(str(path))
    with opened(str(path)) as store, store.engine.connect() as connection:
        assert MigrationContext.configure(connection).get_current_revision() == "0002"
        assert differences(connection) == []


def test_many_writers_at_once_lose_nothing(tmp_path):
    path = str(tmp_path / "j.db")
    open_store(path).close()

    def write(writer):
        with opened(path) as store:
            for number in range(10):
                add_player(store, f"code {writer} {number}")

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(write, range(4)))
    with opened(path) as store:
        assert len(list_players(store)) == 40


WRITER = """
import sys
from datetime import date
from puttvision.journal.record import record
from puttvision.journal.store import open_store
from puttvision.putts import Putt, PuttSheet
store = open_store(sys.argv[1])
print("ready", flush=True)
for n in range(int(sys.argv[2]), 10**9):
    putts = tuple(Putt(number=k, outcome="holed" if (n >> k) & 1 else "missed") for k in range(1, 21))
    record(store, "Ines", PuttSheet(putts=putts), day=date.fromordinal(700000 + n))
"""


@pytest.mark.slow
def test_kill_while_writing_leaves_whole_sessions(tmp_path):
    path = tmp_path / "j.db"
    with opened(str(path)) as store:
        add_player(store, "Ines")
    chance = random.Random(20)
    for number in range(100):
        child = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), str(number * 1000)], stdout=subprocess.PIPE
        )
        assert child.stdout.readline() == b"ready\n"
        time.sleep(chance.uniform(0, 0.1))
        os.kill(child.pid, signal.SIGKILL)
        child.wait()
        child.stdout.close()
        with opened(str(path)) as store, store.engine.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
            halves = connection.exec_driver_sql(
                "SELECT s.id FROM sessions s LEFT JOIN putts p ON p.session_id = s.id "
                "GROUP BY s.id HAVING count(p.id) != 20"
            ).all()
            assert halves == []
    with opened(str(path)) as store:
        assert list_players(store)[0].n_sessions > 50
