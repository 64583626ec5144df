"""The report against last time: the right session is found, and only real changes are claimed."""

from dataclasses import replace
from datetime import date

import pytest
import report_setting as setting
from typer.testing import CliRunner

from puttvision.cli.app import app
from puttvision.drill import catalogue
from puttvision.drill.scorecard import score
from puttvision.files import write_json
from puttvision.journal.people import add_player
from puttvision.journal.record import record
from puttvision.journal.store import opened
from puttvision.putts import to_json
from puttvision.review.report.before import find

DRILL = "ball-gate-points"
RULES = catalogue.load(DRILL)


@pytest.fixture
def where(tmp_path):
    """A journal with three sessions of Ines, the last of them today's own."""
    place = str(tmp_path / "journal.sqlite")
    with opened(place) as store:
        add_player(store, "Ines", consent=True)
        for day, seed, bias_deg in (
            (date(2026, 4, 9), 2, 0.6),
            (date(2026, 4, 23), 9, -0.7),
            (date(2026, 4, 30), 4, 0.6),
        ):
            kept = setting.sheet(seed=seed, bias_deg=bias_deg)
            kept = replace(kept, clip=replace(kept.clip, file=f"{seed}.mp4", duration_s=500.0 + seed))
            record(
                store, "Ines", kept, day=day, card=score(RULES, kept.putts), rules_text=catalogue.text(DRILL)
            )
    return place


def test_last_time_is_the_session_before_not_this_one(where):
    putts = setting.putts()
    with opened(where) as store:
        found = find(store, "Ines", DRILL, date(2026, 4, 30), putts, score(RULES, putts))
    assert found.words.startswith("23 April 2026, 20 putts")
    verdicts = {change.name: change.verdict for change in found.changes}
    assert verdicts["Start line, mean"].startswith("a real change: 1.")
    assert {"Points", "Holed", "Through the gate"} <= set(verdicts)


def test_the_first_session_has_none(where):
    putts = setting.putts(seed=2)
    with opened(where) as store:
        assert find(store, "Ines", DRILL, date(2026, 4, 1), putts, None) is None
        assert find(store, "Ines", "nine-six-three", None, putts, None) is None


def test_the_command_shows_it(where, tmp_path):
    write_json(tmp_path / "putts.json", to_json(setting.sheet()))
    words = [
        "report",
        str(tmp_path / "putts.json"),
        "--drill",
        DRILL,
        "--player",
        "Ines",
        "--date",
        "2026-04-30",
    ]
    done = CliRunner().invoke(app, [*words, "--store", where, "--out", str(tmp_path / "r.html")])
    assert done.exit_code == 0, f"{done.output}{done.exception}"
    text = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert "Against last time" in text
    assert "23 April 2026" in text


def test_a_name_the_journal_does_not_know_is_told(where, tmp_path):
    write_json(tmp_path / "putts.json", to_json(setting.sheet()))
    words = ["report", str(tmp_path / "putts.json"), "--player", "Oluf", "--store", where]
    done = CliRunner().invoke(app, [*words, "--out", str(tmp_path / "r.html")])
    assert done.exit_code == 1
    assert "Oluf" in str(done.exception)
