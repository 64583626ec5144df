"""Forgetting is for good: no byte of the files holds what was removed, and nobody else loses anything."""

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select

from puttvision.drill import catalogue
from puttvision.drill.load import parse_rules
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score
from puttvision.errors import JournalError
from puttvision.journal.corrections import correct
from puttvision.journal.forget import forget_player, remove_session
from puttvision.journal.groups import add_group, members
from puttvision.journal.history import putts_of, sessions_of
from puttvision.journal.matches import record_match
from puttvision.journal.notes import add_note, notes_of
from puttvision.journal.people import add_player, list_players
from puttvision.journal.record import record
from puttvision.journal.store import opened
from puttvision.journal.tables import Base, RulesText
from puttvision.putts import ClipInfo, Putt, PuttSheet

DRILL = "one-miss-and-out"
SECRETS = [
    "Zebulonia", "swan-song", "quincunx remark", "wobbly wrist", "zeppelin ride", "zigzag-drill",
    "knitted reason",
]  # fmt: skip


def sheet(file=None):
    clip = ClipInfo(file=file, duration_s=60.0, frames=3600, width=64, height=48) if file else None
    return PuttSheet(putts=(Putt(number=1, outcome="holed"), Putt(number=2, outcome="missed")), clip=clip)


def fill(store, clip):
    """Ines, who stays, and Zebulonia with something in every table that can hold something of a person."""
    for name in ("Ines", "Zebulonia"):
        add_player(store, name, consent=True)
    add_group(store, "Tuesday", ["Ines", "Zebulonia"])
    text = catalogue.text(DRILL)
    card = score(catalogue.load(DRILL), sheet().putts)
    record(store, "Ines", sheet(), day=date(2026, 5, 4), card=card, rules_text=text)
    own = text.replace('title = "', 'title = "zigzag-drill ')
    rules = replace(parse_rules(own, "own.toml"), stake="zeppelin ride")
    card = score(rules, sheet().putts)
    film = sheet("swan-song.mp4")
    number = record(
        store, "Zebulonia", film, day=date(2026, 5, 5), card=card, rules_text=own, clip=clip
    ).session
    correct(store, number, 2, "outcome", "holed", "Coach", "knitted reason", 0)
    add_note(store, "wobbly wrist", "Coach", session_id=number, putt=1)
    add_note(store, "quincunx remark", "Coach", player="Zebulonia")
    return number


@pytest.fixture
def clip(tmp_path):
    path = tmp_path / "swan-song.mp4"
    path.write_bytes(b"film")
    return path


def found_in(paths):
    held = b"".join(path.read_bytes() for path in paths)
    return {word for word in SECRETS if word.encode() in held}


def test_a_forgotten_player_is_in_no_byte_of_the_file(tmp_path, clip):
    with opened(str(tmp_path / "j.db")) as store:
        fill(store, clip)
        assert found_in(tmp_path.glob("j.db*")) == set(SECRETS)  # the search finds them while they are there
        gone = forget_player(store, "Zebulonia")
        assert found_in(tmp_path.glob("j.db*")) == set()  # the file, its log and its index of the log
        assert b"Ines" in (tmp_path / "j.db").read_bytes()
    assert (gone.n_sessions, gone.n_putts, gone.clips) == (1, 2, (str(clip),))


def test_a_forgotten_player_is_in_no_table_file_of_postgresql(postgresql, clip):
    import psycopg

    with opened(postgresql) as store:
        fill(store, clip)
        with psycopg.connect(postgresql, autocommit=True) as raw:
            data = raw.execute("SHOW data_directory").fetchone()[0]
            oid = raw.execute("SELECT oid FROM pg_database WHERE datname = current_database()").fetchone()[0]
            raw.execute("CHECKPOINT")
            folder = Path(data) / "base" / str(oid)
            assert found_in(folder.iterdir()) == set(SECRETS)
            forget_player(store, "Zebulonia")
            raw.execute("CHECKPOINT")
            assert found_in(folder.iterdir()) == set()


def test_others_keep_everything(journal, clip):
    number = fill(journal, clip)
    before = putts_of(journal, "Ines")
    forget_player(journal, "Zebulonia")
    assert [one.name for one in list_players(journal)] == ["Ines"]
    assert putts_of(journal, "Ines") == before
    assert members(journal, "Tuesday") == ["Ines"]
    assert notes_of(journal) == []
    with journal.reading() as session:
        assert session.scalars(select(RulesText.text)).all() == [catalogue.text(DRILL)]
        for table in Base.metadata.sorted_tables:  # no row is left whose owner is gone
            if "session_id" in table.columns:
                assert number not in session.scalars(select(table.c.session_id)).all()
    with pytest.raises(JournalError, match="no player"):
        forget_player(journal, "Zebulonia")


def test_a_clip_of_two_and_words_about_others_are_told(journal, clip):
    number = fill(journal, clip)
    record(journal, "Ines", sheet("swan-song.mp4"), day=date(2026, 5, 5), clip=clip)
    add_note(journal, "putts like Zebulonia", "Coach", player="Ines")
    gone = forget_player(journal, "Zebulonia")
    assert (gone.clips, gone.shared_clips, gone.mentions) == ((), (str(clip),), 1)
    assert number not in [one.id for one in sessions_of(journal)]


def test_whom_others_played_against_is_forgotten_too(tmp_path):
    with opened(str(tmp_path / "j.db")) as store:
        for name in ("Ines", "Zebulonia"):
            add_player(store, name)
        rules = with_options(catalogue.load("race-to-ten"), Options(players=("Ines", "Zebulonia")))
        putts = [Putt(number=k, outcome="holed" if k % 4 else "missed") for k in range(1, 13)]
        record_match(store, putts, score(rules, putts), catalogue.text("race-to-ten"), day=date(2026, 5, 4))
        assert any("against Zebulonia" in one.text for one in notes_of(store, player="Ines"))
        gone = forget_player(store, "Zebulonia")
        assert gone.mentions == 0
        assert any("against another player" in one.text for one in notes_of(store))
        assert found_in(tmp_path.glob("j.db*")) == set()


def test_what_people_wrote_with_the_name_is_counted(journal, clip):
    fill(journal, clip)
    number = sessions_of(journal, "Ines")[0].id
    correct(journal, number, 2, "outcome", "holed", "Zebulonia", "saw it", 0)
    assert forget_player(journal, "Zebulonia").mentions == 1


def test_forgetting_while_another_program_reads_says_so(tmp_path, clip):
    path = tmp_path / "j.db"
    with opened(str(path)) as store:
        fill(store, clip)
    with opened(str(path)) as store, closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM putts").fetchone()
        assert forget_player(store, "Zebulonia").in_use
        other.execute("ROLLBACK")
    assert found_in(tmp_path.glob("j.db*")) == set()  # it left when both were done


def test_one_session_is_removed_whole(journal, clip):
    number = fill(journal, clip)
    remove_session(journal, number)
    assert sessions_of(journal, "Zebulonia") == []
    assert len(sessions_of(journal)) == 1
    assert [one.text for one in notes_of(journal)] == ["quincunx remark"]
    with pytest.raises(JournalError, match="no session"):
        remove_session(journal, number)
