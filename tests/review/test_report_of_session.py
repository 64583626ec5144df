"""``puttvision report --session``: the session as it stands in the journal, against the one before."""

from dataclasses import replace
from datetime import date

import pytest
import report_setting as setting
from test_report_page import text_of
from typer.testing import CliRunner

from puttvision.cli.app import app
from puttvision.drill import catalogue
from puttvision.drill.scorecard import score
from puttvision.journal.corrections import correct
from puttvision.journal.people import add_player
from puttvision.journal.record import record
from puttvision.journal.store import opened


@pytest.fixture
def journal(tmp_path):
    """Two sessions of Ines; in the second, putt 15 was set to holed by a person."""
    where = str(tmp_path / "journal.db")
    rules, text = catalogue.load("ball-gate-points"), catalogue.text("ball-gate-points")
    with opened(where) as store:
        add_player(store, "Ines", consent=True)
        for day, seed in ((date(2026, 4, 23), 9), (date(2026, 4, 30), 4)):
            sheet = setting.sheet(seed=seed)
            sheet = replace(sheet, clip=replace(sheet.clip, file=f"{day}.mp4"))
            card = score(rules, sheet.putts)
            kept = record(store, "Ines", sheet, day=day, card=card, rules_text=text)
        correct(store, kept.session, 15, "outcome", "holed", "Quill", "seen", 0)
    return where


def report(where, folder, *words):
    out = folder / "r.html"
    done = CliRunner().invoke(app, ["report", *words, "--out", str(out), "--store", where])
    assert done.exit_code == 0, done.output
    return text_of(out.read_text(encoding="utf-8"))


def test_a_kept_session_has_all_of_it(journal, tmp_path):
    text = report(journal, tmp_path, "--session", "2")
    for words in (
        "Ines", "30 April 2026", "Against last time 23 April 2026, 20 putts", "Why putts missed",
        "What to practise next", "From all putts on record", "rests on", "turn it back",
    ):  # fmt: skip
        assert words in text, words
    assert "something hid the hole" not in text  # a person has looked
    assert f"{sum(p.outcome == 'holed' for p in setting.putts()) + 1} of 20" in text


def test_the_first_session_has_none_before_it(journal, tmp_path):
    assert "Against last time" not in report(journal, tmp_path, "--session", "1")


def test_another_drill_may_be_asked_for(journal, tmp_path):
    text = report(journal, tmp_path, "--session", "2", "--drill", "head-gate-streak")
    assert catalogue.load("head-gate-streak").title in text


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--session", "77"], 1, "no session 77"),
        ([], 2, "--session"),
        (["--session", "2", "--player", "Oluf"], 2, "--player"),
        (["putts.json", "--session", "2"], 2, "--session"),
    ],
)
def test_wrong_words_are_one_clear_line(journal, tmp_path, words, code, said):
    done = CliRunner().invoke(app, ["report", *words, "--out", str(tmp_path / "x.html"), "--store", journal])
    assert done.exit_code == code
    assert said in done.output + str(done.exception)
    assert not (tmp_path / "x.html").exists()
