"""A store of each earlier schema, with rows in it, opens, is brought up to date and loses nothing.

The stores are made by the migrations themselves, as far as that schema, and filled by SQL written
down here: today's models know nothing of earlier tables.
"""

import hashlib
import json
import sqlite3
from datetime import UTC, date, datetime

import pytest
from alembic import command
from sqlalchemy import create_engine, text

from puttvision.drill import catalogue
from puttvision.journal import store as store_module
from puttvision.journal.board_codes import board_codes
from puttvision.journal.corrections import as_it_stands, correct
from puttvision.journal.groups import members
from puttvision.journal.history import putts_of, sessions_of
from puttvision.journal.people import add_player, list_players
from puttvision.journal.store import SCHEMA, opened
from puttvision.putts import Figure

DRILL = "one-miss-and-out"

ROWS_0001 = [
    "INSERT INTO players VALUES (1, 'Ines', 'left', '2026-01-02 10:00:00+00:00', '2026-01-02 10:00:00+00:00', '')",  # noqa: E501
    "INSERT INTO players VALUES (2, 'Oluf', 'right', '2026-01-02 10:00:00+00:00', NULL, '')",
    "INSERT INTO rules VALUES (1, :rules_hash, :rules)",
    "INSERT INTO sessions VALUES (1, 1, '2026-01-05', '2026-01-05 18:00:00+00:00', 'aa', 'bb', 'a.mp4', '/clips/a.mp4',"  # noqa: E501
    " 61.4, 3684, 9.6, 0.4, 0.45, 0.004, 65.0, 3.0, 1.2, 0.6, '')",
    "INSERT INTO sessions VALUES (2, 2, '2026-01-06', '2026-01-06 18:00:00+00:00', 'cc', NULL, NULL, NULL,"
    " NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, '')",
    "INSERT INTO putts (id, session_id, number, outcome, gate_result, lipped, review, hole_distance_m,"
    " hole_distance_m_u95) VALUES (1, 1, 1, 'holed', 'none', false, NULL, 3.05, 0.01)",
    "INSERT INTO putts (id, session_id, number, outcome, gate_result, lipped, review)"
    " VALUES (2, 1, 2, 'missed', 'none', false, :review)",
    "INSERT INTO putts (id, session_id, number, outcome, gate_result, lipped) VALUES (3, 2, 1, 'holed', 'none', false)",  # noqa: E501
    "INSERT INTO scorecards VALUES (1, 1, :drill, 'One miss and out', '{}', 1, 'failed', 2, 1, NULL, 0, 1, NULL)",  # noqa: E501
    "INSERT INTO scorecard_lines VALUES (1, 1, 1, 1, true, NULL, false, 1.8288, '', '', '', '', '', NULL, '')",  # noqa: E501
    "INSERT INTO scorecard_lines VALUES (2, 1, 2, 1, false, NULL, false, 1.8288, '', '', '', '', '', NULL, '')",  # noqa: E501
]
NEW_COLUMNS = {"INSERT INTO sessions VALUES": 8, "INSERT INTO scorecards VALUES": 1}
ROWS_0002 = [row[:-1] + ", NULL" * NEW_COLUMNS.get(row[: row.find(" (")], 0) + ")" for row in ROWS_0001] + [
    "INSERT INTO groups (name, made_at, note) VALUES ('Youth', '2026-01-02 10:00:00+00:00', '')",
    "INSERT INTO group_members SELECT groups.id, 1, groups.made_at FROM groups",
    "INSERT INTO corrections (session_id, version, at, who, putt, field, from_text, to_text, why)"
    " VALUES (2, 1, '2026-01-07 10:00:00+00:00', 'Coach', 1, 'outcome', '\"holed\"', '\"missed\"', '')",
]
"""The same with what schema 0002 brought: columns of sessions and scorecards, groups, corrections."""
FILLED = {"0001": ROWS_0001, "0002": ROWS_0002}


def make(where, schema):
    """A store of an earlier schema with rows in it."""
    url = where.replace("postgresql://", "postgresql+psycopg://") if "://" in where else f"sqlite:///{where}"
    engine = create_engine(url)
    rules = catalogue.text(DRILL)
    words = {
        "rules": rules,
        "rules_hash": hashlib.sha256(rules.encode()).hexdigest(),
        "review": json.dumps(["the end is near the edge"]),
        "drill": DRILL,
    }
    with engine.begin() as connection:
        config = store_module._config()
        config.attributes["connection"] = connection
        command.upgrade(config, schema)
        for statement in FILLED[schema]:
            needed = {key: value for key, value in words.items() if f":{key}" in statement}
            connection.execute(text(statement), needed)
        if connection.dialect.name == "postgresql":
            for table in ("players", "rules", "sessions", "putts", "scorecards", "scorecard_lines"):
                connection.execute(
                    text(f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), max(id)) FROM {table}")
                )
    engine.dispose()


@pytest.fixture(params=["sqlite", "postgresql"])
def empty(request, tmp_path):
    return str(tmp_path / "j.db") if request.param == "sqlite" else request.getfixturevalue("postgresql")


def earlier():
    found = sorted(script.revision for script in store_module._scripts().walk_revisions())
    assert found[-1] == SCHEMA
    return found[:-1]


def test_the_program_knows_its_newest_schema():
    assert store_module._scripts().get_current_head() == SCHEMA
    assert earlier() == sorted(FILLED)


@pytest.mark.parametrize("schema", sorted(FILLED))
def test_an_earlier_store_is_upgraded_whole(empty, tmp_path, schema, monkeypatch):
    monkeypatch.setattr(store_module, "default_file", lambda: tmp_path / "own" / "journal.db")
    make(empty, schema)
    with opened(empty) as store:
        assert [(one.name, one.hand, one.n_putts) for one in list_players(store)] == [
            ("Ines", "left", 2),
            ("Oluf", "right", 1),
        ]
        session = sessions_of(store, "Ines")[0]
        assert (session.day, session.clip_hash, session.stimp_ft) == (
            date(2026, 1, 5),
            "bb",
            Figure(9.6, 0.4),
        )
        assert session.gate.width_mm == Figure(65.0, 3.0)
        first, second = (one.putt for one in putts_of(store, "Ines"))
        assert first.hole_distance_m == Figure(3.05, 0.01)
        assert second.review == ("the end is near the edge",)
        # What came later works on it: the kept rules score a corrected putt.
        after = correct(store, 1, 2, "outcome", "holed", "Coach", "", 0)
        assert after.cards[0].totals[0].best_streak == 2
        add_player(store, "Later")
        codes = board_codes(store, ["Ines", "Oluf"])
        if schema >= "0002":
            assert members(store, "Youth") == ["Ines"]
            assert putts_of(store, "Oluf")[0].putt.outcome == "missed"
    with opened(empty) as store:
        assert as_it_stands(store, 1).version == 1
        assert board_codes(store, ["Oluf", "Ines"]) == codes
    copies = list(
        tmp_path.glob(f"j.schema-{schema}.*.db" if "://" not in empty else f"own/*.schema-{schema}.*.db")
    )
    assert len(copies) == 1
    with sqlite3.connect(copies[0]) as raw:
        assert raw.execute("SELECT version_num FROM alembic_version").fetchone() == (schema,)
    raw.close()
    with opened(str(copies[0])) as copy:
        assert [one.n_putts for one in list_players(copy)] == [2, 1]
        session = sessions_of(copy, "Ines")[0]
        assert session.kept_at == datetime(2026, 1, 5, 18, tzinfo=UTC)
        assert putts_of(copy, "Ines")[1].putt.review == ("the end is near the edge",)


@pytest.mark.parametrize("schema", sorted(FILLED))
def test_an_earlier_store_is_one_that_can_be_restored(tmp_path, schema):
    from puttvision.journal.backup import restore

    make(str(tmp_path / "old.db"), schema)
    before = (tmp_path / "old.db").read_bytes()
    done = restore(tmp_path / "old.db", str(tmp_path / "j.db"))
    assert (done.n_players, done.n_sessions, done.n_putts) == (2, 2, 3)
    assert (tmp_path / "old.db").read_bytes() == before
