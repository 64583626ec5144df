"""Every table in three forms, read back by other readers, and a page that leaves no column out."""

import csv
import json
import re
from datetime import UTC, date, datetime

import pytest

from puttvision.drill import catalogue
from puttvision.drill.scorecard import score
from puttvision.errors import JournalError
from puttvision.journal.corrections import add_putt, correct
from puttvision.journal.export import columns_page, export, tables
from puttvision.journal.people import add_player
from puttvision.journal.record import record
from puttvision.putts import Figure, Putt, PuttSheet

DRILL = "ball-gate-points"


@pytest.fixture
def store(journal):
    add_player(journal, 'Ines, the "left" one', consent=True)
    putts = tuple(
        Putt(
            number=k,
            outcome="holed" if k % 2 else "missed",
            start_s=Figure(10.0 * k, 0.01),
            review=("look; twice",) if k == 2 else (),
        )
        for k in range(1, 5)
    )
    card = score(catalogue.load(DRILL), putts)
    text = catalogue.text(DRILL)
    done = record(
        journal,
        'Ines, the "left" one',
        PuttSheet(putts=putts),
        day=date(2026, 5, 4),
        card=card,
        rules_text=text,
    )
    correct(journal, done.session, 4, "outcome", "holed", "Coach", "", 0)
    add_putt(journal, done.session, Putt(number=1, outcome="missed", start_s=Figure(15.0)), "Coach", "", 1)
    return journal


def test_csv_as_the_csv_module_reads_it(store, tmp_path):
    export(store, tmp_path, "csv")
    with (tmp_path / "players.csv").open(newline="") as file:
        players = list(csv.DictReader(file))
    assert players[0]["name"] == 'Ines, the "left" one'
    with (tmp_path / "putts.csv").open(newline="") as file:
        putts = list(csv.DictReader(file))
    assert [putt["outcome"] for putt in putts] == ["holed", "missed", "holed", "missed"]
    assert (putts[1]["start_s"], putts[1]["run_out_m"], putts[1]["lipped"]) == ("20.0", "", "false")
    assert json.loads(putts[1]["review"]) == ["look; twice"]
    with (tmp_path / "putts_as_they_stand.csv").open(newline="") as file:
        stand = list(csv.DictReader(file))
    assert [(putt["play_order"], putt["number"], putt["outcome"]) for putt in stand] == [
        ("1", "1", "holed"),
        ("2", "5", "missed"),
        ("3", "2", "missed"),
        ("4", "3", "holed"),
        ("5", "4", "holed"),
    ]
    with (tmp_path / "rules.csv").open(newline="") as file:
        assert next(csv.DictReader(file))["text"] == catalogue.text(DRILL)


def test_json_lines(store, tmp_path):
    export(store, tmp_path, "jsonl")
    lines = (tmp_path / "corrections.jsonl").read_text().splitlines()
    first = json.loads(lines[0])
    assert (first["putt"], first["field"], first["from_text"], first["to_text"]) == (
        4,
        "outcome",
        '"missed"',
        '"holed"',
    )
    putts = [json.loads(line) for line in (tmp_path / "putts.jsonl").read_text().splitlines()]
    assert putts[0]["start_s"] == 10.0
    assert putts[0]["run_out_m"] is None
    assert putts[1]["review"] == ["look; twice"]


def test_parquet_keeps_kinds(store, tmp_path):
    from pyarrow import parquet

    export(store, tmp_path, "parquet")
    putts = parquet.read_table(tmp_path / "putts.parquet")
    assert str(putts.schema.field("start_s").type) == "double"
    assert str(putts.schema.field("lipped").type) == "bool"
    assert putts.column("start_s").to_pylist() == [10.0, 20.0, 30.0, 40.0]
    sessions = parquet.read_table(tmp_path / "sessions.parquet").to_pylist()
    assert sessions[0]["day"] == date(2026, 5, 4)
    assert abs(datetime.now(UTC) - sessions[0]["kept_at"]).total_seconds() < 600
    assert parquet.read_table(tmp_path / "places.parquet").num_rows == 0


def test_one_file_a_table(store, tmp_path):
    written = export(store, tmp_path / "out", "csv")
    assert sorted(path.stem for path in written) == [table.name for table in tables()]
    assert len(written) == 13
    (tmp_path / "taken").write_text("x")
    with pytest.raises(JournalError, match="is a file"):
        export(store, tmp_path / "taken", "csv")


def documented(page):
    """Tables of the page and the columns each names."""
    found = {}
    for part in page.split("\n## ")[1:]:
        name, rest = part.split("\n", 1)
        cells = re.findall(r"^\| (.+?) \| .+ \|$", rest, re.MULTILINE)
        found[name] = [word for cell in cells for word in cell.split(", ") if word not in ("column", "---")]
    return found


def test_the_page_names_every_column_of_every_table():
    page = documented(columns_page())
    putts = [name for name in page["putts"] if name != "id"]
    page["putts_as_they_stand"] = page["putts_as_they_stand"] + putts
    assert {name: sorted(columns) for name, columns in page.items()} == {
        table.name: sorted(table.columns) for table in tables()
    }
