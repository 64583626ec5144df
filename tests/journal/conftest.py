"""A journal for each test, on SQLite and on PostgreSQL."""

import itertools
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from contextlib import contextmanager
from pathlib import Path

import pytest

from puttvision.journal.store import open_store, opened

NUMBERS = itertools.count(1)


def programs():
    """The folder of PostgreSQL's server programs, the newest where there are several; None: not installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    if found:
        return found[-1].parent
    return Path(on_path).resolve().parent if on_path else None


def ordinary_user():
    """Who may run a server: ourselves, or where we are root the user of Debian's package; None: nobody."""
    if os.geteuid() != 0:
        return pwd.getpwuid(os.geteuid())
    try:
        return pwd.getpwnam("postgres")
    except KeyError:
        return None


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture(scope="session")
def cluster():
    """A throw-away PostgreSQL server on a free loopback port: the connection string of its first database."""
    psycopg = pytest.importorskip(
        "psycopg", reason="psycopg is not installed: pip install puttvision[postgres]"
    )
    bin_folder, user = programs(), ordinary_user()
    if bin_folder is None:
        pytest.skip("PostgreSQL's server is not installed (Debian: apt-get install postgresql)")
    if user is None:
        pytest.skip("PostgreSQL will not run as root, and there is no user postgres")
    folder = Path(tempfile.mkdtemp(prefix="puttvision-postgresql-"))
    os.chown(folder, user.pw_uid, user.pw_gid)
    port = free_port()
    as_user = {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []} if os.geteuid() == 0 else {}

    def run(program, *words):
        subprocess.run(
            [bin_folder / program, *words],
            check=True,
            cwd=folder,
            capture_output=True,
            timeout=120,
            **as_user,
        )

    data = folder / "data"
    settings = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c fsync=off -c max_connections=40"
    try:
        run("initdb", "-D", data, "-U", "putt", "-A", "trust", "-E", "UTF8", "--no-sync", "--locale=C")
        # The server keeps what it is given as standard output: to a file, or we would wait for its end.
        run("pg_ctl", "-D", data, "-w", "-l", folder / "log", "-o", settings, "start")
        try:
            yield psycopg.conninfo.make_conninfo(host="127.0.0.1", port=port, user="putt", dbname="postgres")
        finally:
            run("pg_ctl", "-D", data, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def database(cluster, like="template1"):
    """The URL of a new database that is dropped afterwards."""
    import psycopg

    name = f"journal{next(NUMBERS)}"
    with psycopg.connect(cluster, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name} TEMPLATE {like}")
        info = connection.info
        yield f"postgresql://{info.user}@{info.host}:{info.port}/{name}"
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def postgresql(cluster):
    """The URL of a database without any table."""
    with database(cluster) as url:
        yield url


@pytest.fixture(scope="session")
def made_database(cluster):
    """The name of a database with an empty journal, to copy."""
    with database(cluster) as url:
        open_store(url).close()
        yield url.rsplit("/", 1)[1]


@pytest.fixture(scope="session")
def made_file(tmp_path_factory):
    """A file with an empty journal, to copy: making the tables takes a third of a second."""
    path = tmp_path_factory.mktemp("made") / "made.db"
    open_store(str(path)).close()
    return path


@pytest.fixture(params=["sqlite", "postgresql"])
def where(request, tmp_path):
    """Where an empty journal is: a file, then a PostgreSQL database."""
    if request.param == "sqlite":
        shutil.copy(request.getfixturevalue("made_file"), tmp_path / "j.db")
        yield str(tmp_path / "j.db")
        return
    like = request.getfixturevalue("made_database")
    with database(request.getfixturevalue("cluster"), like) as url:
        yield url


@pytest.fixture
def journal(where):
    """An open, empty journal."""
    with opened(where) as store:
        yield store
