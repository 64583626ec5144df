"""`puttvision players` and `score --player`, as a coach runs them."""

import json

from typer.testing import CliRunner

from puttvision.cli.app import app


def run(*words, store):
    return CliRunner().invoke(app, [str(word) for word in words], env={"PUTTVISION_STORE": str(store)})


def sheet_by_hand(path):
    putts = [{"number": k, "outcome": "holed", "gate_result": "clear"} for k in range(1, 21)]
    path.write_text(json.dumps({"format": "puttvision-putts/1", "putts": putts}))
    return path


def test_add_score_list_forget(tmp_path):
    store, sheet = tmp_path / "j.db", sheet_by_hand(tmp_path / "putts.json")
    assert run("players", "add", "Oluf", "--hand", "left", "--no-consent", store=store).exit_code == 0
    words = ("score", sheet, "--drill", "ball-gate-points", "--out", tmp_path / "o", "--player", "Oluf")
    first = run(*words, "--date", "2026-05-04", store=store)
    assert first.exit_code == 0, first.output
    assert "kept in the journal: Oluf, 2026-05-04, 20 putts" in first.output
    assert "nothing was added" in run(*words, "--date", "2026-05-04", store=store).output
    listed = run("players", "list", store=store).output
    assert "Oluf" in listed
    assert "2026-05-04" in listed
    assert "1 session, 20 putts removed" in run("players", "forget", "Oluf", store=store).output
    assert "no players yet" in run("players", "list", store=store).output


def test_unknown_player_stops_before_anything_is_written(tmp_path):
    store, sheet = tmp_path / "j.db", sheet_by_hand(tmp_path / "putts.json")
    run("players", "add", "Ines", "--consent", store=store)
    out = tmp_path / "o"
    result = run("score", sheet, "--drill", "ball-gate-points", "--out", out, "--player", "Inez", store=store)
    assert result.exit_code == 1
    assert 'did you mean "Ines"' in str(result.exception)
    assert not out.exists()


def test_no_journal_yet(tmp_path):
    result = run("players", "list", store=tmp_path / "none.db")
    assert result.exit_code == 1
    assert "there is no journal" in str(result.exception)
    assert not (tmp_path / "none.db").exists()


def test_wrong_day_is_wrong_usage(tmp_path):
    store, sheet = tmp_path / "j.db", sheet_by_hand(tmp_path / "putts.json")
    run("players", "add", "Ines", "--consent", store=store)
    words = ("score", sheet, "--drill", "ball-gate-points", "--player", "Ines", "--date", "soon")
    assert run(*words, store=store).exit_code == 2


def test_forget_removes_clips_where_asked(tmp_path):
    from datetime import date

    from puttvision.journal.record import record
    from puttvision.journal.store import opened
    from puttvision.putts import ClipInfo, Putt, PuttSheet

    store, clip = tmp_path / "j.db", tmp_path / "a.mp4"
    clip.write_bytes(b"film")
    run("players", "add", "Ines", "--consent", store=store)
    info = ClipInfo(file="a.mp4", duration_s=1.0, frames=30, width=64, height=48)
    with opened(str(store)) as journal:
        sheet = PuttSheet(putts=(Putt(number=1, outcome="holed"),), clip=info)
        record(journal, "Ines", sheet, day=date(2026, 5, 4), clip=clip)
    result = run("players", "forget", "Ines", "--clips", store=store)
    assert f"{clip}: removed" in result.output.replace("\n", "")
    assert not clip.exists()


def test_the_note_on_consent_is_shown_once(tmp_path):
    store = tmp_path / "j.db"
    note = "Before a pupil is filmed"
    added = run("players", "add", "Ines", store=store).output
    assert note not in added  # nobody is there to answer
    assert "not to be filmed yet" in added
    assert note in run("players", "consent", "Ines", store=store).output
    again = run("players", "consent", "Ines", store=store).output
    assert note not in again
    assert "consent to film Ines was given on 20" in again
    assert note in run("players", "add", "Oluf", "--consent", store=store).output
    run("players", "consent", "Oluf", "--withdraw", store=store)
    assert note in run("players", "consent", "Oluf", store=store).output


def test_progress_names_the_other_drills_on_record(tmp_path):
    store, sheet = tmp_path / "j.db", sheet_by_hand(tmp_path / "putts.json")
    run("players", "add", "Oluf", store=store)
    run("score", sheet, "--drill", "ball-gate-points", "--player", "Oluf", "--date", "2026-05-04",
        "--out", tmp_path / "o", store=store)  # fmt: skip
    table = tmp_path / "later.csv"
    table.write_text("player,day,outcome\nOluf,2026-06-01,holed\n")
    run("import", table, store=store)
    told = run("progress", "Oluf", store=store).output
    assert "1 putt in 1 session scored by no drill; also on record: ball-gate-points (--drill NAME)" in told
