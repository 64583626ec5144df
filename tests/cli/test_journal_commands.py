"""groups, places, notes, sessions, export, import, backup, restore and forget, as a coach runs them."""

import json

import pytest
from typer.testing import CliRunner

from puttvision.cli.app import app

WIDE = {"COLUMNS": "200"}


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Run a command in a folder of its own on a journal of its own; ``code``: the exit code that is due."""
    monkeypatch.chdir(tmp_path)

    def go(*words, code=0):
        env = {"PUTTVISION_STORE": str(tmp_path / "j.db"), **WIDE}
        result = CliRunner().invoke(app, [str(word) for word in words], env=env)
        said = result.output + (str(result.exception) if result.exception else "")
        assert result.exit_code == code, said
        return said

    go("players", "add", "Ines", "--consent")
    go("players", "add", "Oluf", "--hand", "left", "--no-consent")
    return go


def test_groups(run):
    assert "group Tuesday made: Ines" in run("groups", "add", "Tuesday", "Ines")
    assert "Tuesday: Ines, Oluf" in run("groups", "join", "Tuesday", "Oluf", "Ines")
    assert "Tuesday: Ines, Oluf" in run("groups", "list")
    assert "in the journal already" in run("groups", "add", "Tuesday", code=1)
    assert 'no player "Inez"' in run("groups", "join", "Tuesday", "Inez", code=1)
    assert "Tuesday: Oluf" in run("groups", "leave", "Tuesday", "Ines")
    assert "is not in the group" in run("groups", "leave", "Tuesday", "Ines", code=1)
    assert 'did you mean "Tuesday"' in run("groups", "remove", "Tuesdy", code=1)
    run("groups", "remove", "Tuesday")
    assert "no groups yet" in run("groups", "list")


def test_places(run, tmp_path):
    assert "Quillow 3 added" in run("places", "add", "Quillow 3", "--stimp", "9.6+-0.4", "--slope", "1.5")
    run("places", "add", "Quillow 3", "--note", "by the oak", "--stimp", "10", "--on", "2026-05-02")
    listed = run("places", "list")
    assert "1.5" in listed
    assert "2026-05-02" in listed
    assert "by the oak" in listed
    run("places", "add", "Quillow 3", "--stimp", "fast", code=2)
    assert "feet, 2 to 20" in run("places", "add", "Quillow 3", "--stimp", "96", code=1)
    sheet = tmp_path / "putts.json"
    putts = [{"number": k, "outcome": "holed", "gate_result": "clear"} for k in range(1, 21)]
    sheet.write_text(json.dumps({"format": "puttvision-putts/1", "putts": putts}))
    words = ("score", sheet, "--drill", "ball-gate-points", "--player", "Ines")
    assert 'did you mean "Quillow 3"' in run(*words, "--place", "Quillow", code=1)
    run(*words, "--place", "Quillow 3")
    assert (
        "Quillow 3" in (run("export"), (tmp_path / "export-out" / "putts_as_they_stand.csv").read_text())[1]
    )
    run("places", "remove", "Quillow 3")
    assert "1 session" not in run("places", "list")
    run("score", sheet, "--drill", "ball-gate-points", "--place", "x", code=2)


def test_a_place_as_roll_measured_it(run, tmp_path):
    figures = {"stimp_ft": (9.8, 0.3), "fall_along_pct": (-0.6, 0.1), "fall_right_pct": (0.8, 0.2)}
    data = {key: {"value": value, "u95": u95} for key, (value, u95) in figures.items()}
    (tmp_path / "roll.json").write_text(json.dumps({"format": "puttvision-roll/1", **data}))
    run("places", "add", "Quillow 3", "--roll", "roll.json")
    # 0.6 and 0.8 make 1; its interval: sqrt((0.6 x 0.1)^2 + (0.8 x 0.2)^2) = 0.17
    listed = run("places", "list")
    assert "9.8 ± 0.3" in listed
    assert "1 ± 0.17" in listed
    run("places", "add", "Quillow 3", "--roll", "roll.json", "--stimp", "9", code=2)
    (tmp_path / "roll.json").write_text("{}")
    assert "is no roll.json" in run("places", "add", "Quillow 3", "--roll", "roll.json", code=1)


SCORES = """player,day,drill,outcome
Ines,2026-05-04,one-miss-and-out,holed
Ines,2026-05-04,one-miss-and-out,missed
"""


def test_import_correct_undo_note_export(run, tmp_path):
    (tmp_path / "s.csv").write_text(SCORES)
    assert "kept: 1 session, 2 putts" in run("import", "s.csv")
    assert "0 sessions, 0 putts; 1 session known already" in run("import", "s.csv")
    assert "one-miss-and-out: 1 of 2 made, 1 point, failed" in run("sessions", "list", "Ines")
    said = run("sessions", "correct", 1, 2, "outcome", "holed", "--why", "it dropped late", "--who", "Ada")
    assert "1 putt made, now 2 putts made" in said
    assert "outcome missed to holed: it dropped late" in run("sessions", "corrections", 1)
    assert "is holed already" in run("sessions", "correct", 1, 2, "outcome", "holed", code=1)
    assert "correction of outcome undone" in run("sessions", "undo", 1)
    assert "undone" in run("sessions", "corrections", 1)
    run("notes", "add", "head still", "--session", 1, "--putt", 2, "--who", "Ada")
    assert "Ines, session 1, putt 2" in run("notes", "list", "--player", "Ines")
    assert "no putt 9" in run("notes", "add", "x", "--session", 1, "--putt", 9, code=1)
    run("notes", "add", "x", code=2)
    for form in ("csv", "jsonl", "parquet"):
        assert "written: 13 tables" in run("export", "--form", form, "--out", "out")
    assert "head still" in (tmp_path / "out" / "notes.jsonl").read_text()
    assert "half-width of the figure's" in run("export", "--columns")
    run("notes", "remove", 1)
    assert "no notes" in run("notes", "list")


def test_import_tells_every_bad_row(run, tmp_path):
    (tmp_path / "s.csv").write_text(SCORES + "Inez,2026-05-04,,sunk\n")
    said = run("import", "s.csv", code=1)
    assert 's.csv, line 4, player: a player of the journal was due; nearest: "Ines", got "Inez"' in said
    assert 's.csv, line 4, outcome: one of holed, missed, unseen was due, got "sunk"' in said
    assert "nothing was kept" in said
    assert "no sessions yet" in run("sessions", "list")


def test_forfeits(run, tmp_path):
    putts = ["missed" if k == 3 else "holed" for k in range(1, 8)]
    rows = "".join(f"Ines,2026-05-04,three-lives,{outcome}\n" for outcome in putts)
    (tmp_path / "s.csv").write_text("player,day,drill,outcome\n" + rows)
    run("import", "s.csv")
    due = run("sessions", "forfeits", "Ines")
    assert "(due)" in due, due
    assert "of session 1 paid" in run("sessions", "paid", 1)
    assert "(paid " in run("sessions", "forfeits", "Ines")
    assert "has no forfeit due" in run("sessions", "paid", 1, code=1)


def test_backup_restore_forget(run, tmp_path):
    (tmp_path / "s.csv").write_text(SCORES)
    run("import", "s.csv")
    run("backup", "b.db")
    said = run("forget", "Ines")
    assert "Ines forgotten: 1 session, 2 putts removed" in said
    assert "put back: 2 players, 1 session, 2 putts" in run("restore", "b.db")
    assert list(tmp_path.glob("j.before-restore.*.db"))
    assert "Ines" in run("sessions", "list")
    assert "there is no file" in run("restore", "c.db", code=1)
    said = run("forget", "Ines")
    assert "before-restore" in said
    assert "delete it by hand" in said


def test_players_change_and_consent(run):
    run("players", "change", "Oluf", "--name", "P7", "--hand", "right")
    assert "is in the journal already" in run("players", "change", "P7", "--name", "Ines", code=1)
    run("players", "change", "P7", code=2)
    assert "safeguarding rules" in run("players", "consent", "P7")
    assert "not to be filmed any more" in run("players", "consent", "Ines", "--withdraw")
    listed = run("players", "list").splitlines()
    assert [line.split()[:2] for line in listed[1:]] == [["Ines", "right"], ["P7", "right"]]
    assert "not given" in listed[1]
    assert "not given" not in listed[2]


def test_the_note_on_consent_is_shown_before_it_is_kept(run):
    assert "safeguarding rules and to local law" in run("players", "add", "Ada", "--consent")
    assert "safeguarding" not in run("players", "add", "Ben", "--no-consent")
    assert "not to be filmed yet" in run("players", "add", "Cleo")


def test_a_session_is_removed(run, tmp_path):
    (tmp_path / "s.csv").write_text(SCORES)
    run("import", "s.csv")
    assert "session 1 removed" in run("sessions", "remove", 1)
    assert "no session 1" in run("sessions", "remove", 1, code=1)
