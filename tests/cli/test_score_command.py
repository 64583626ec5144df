"""`puttvision score` and `puttvision drills`, run as a coach runs them."""

import json
import os
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from puttvision.cli.app import app

run = CliRunner()


def putts_file(folder, words):
    outcomes = {"M": "holed", "X": "missed", "U": "unseen"}
    putts = [{"number": n, "outcome": outcomes[word]} for n, word in enumerate(words.split(), start=1)]
    path = folder / "putts.json"
    path.write_text(json.dumps({"format": "puttvision-putts/1", "putts": putts}))
    return path


def puttvision(*args, **environment):
    """Run the console command; a plain terminal of 100 columns."""
    return subprocess.run(
        [sys.executable, "-c", "from puttvision.cli.app import main; main()", *map(str, args)],
        capture_output=True, text=True, check=False,
        env={**os.environ, "COLUMNS": "100", **environment},
    )  # fmt: skip


def test_score_writes_the_scorecard_and_says_what_comes_next(tmp_path):
    source = putts_file(tmp_path, "M M X U X M M M")
    done = puttvision("score", source, "--drill", "nine-six-three", "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    assert "\x1b" not in done.stdout
    assert "missed: back to the beginning" in done.stdout
    assert "putt 4 set aside: its end was not seen" in done.stdout
    assert "RUNNING" in done.stdout
    assert "one of four played, make two more" in done.stdout
    assert str(tmp_path / "out" / "scorecard.json") in done.stdout
    card = json.loads((tmp_path / "out" / "scorecard.json").read_text())
    assert card["format"] == "puttvision-scorecard/1"
    assert card["set_aside"] == [4]
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["scorecard.json"]


def test_json_goes_to_standard_output(tmp_path):
    source = putts_file(tmp_path, "M M M")
    done = run.invoke(
        app,
        [
            "score",
            str(source),
            "--drill",
            "head-gate-streak",
            "--target",
            "3",
            "--json",
            "--out",
            str(tmp_path),
        ],
    )
    assert done.exit_code == 0
    assert json.loads(done.stdout) == json.loads((tmp_path / "scorecard.json").read_text())
    assert json.loads(done.stdout)["state"] == "finished"
    assert json.loads(done.stdout)["options"] == {"target": 3}


def test_own_drill_file_and_a_long_drill(tmp_path):
    drill = tmp_path / "five.toml"
    drill.write_text('name = "five"\n[[stage]]\nputts = 400\n')
    source = putts_file(tmp_path, "M X " * 150)
    done = puttvision("score", source, "--drill", drill, "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    assert "(the first 180 putts are in scorecard.json only)" in done.stdout
    assert len(json.loads((tmp_path / "scorecard.json").read_text())["lines"]) == 300


def test_words_with_brackets_are_shown_as_they_are(tmp_path):
    drill = tmp_path / "five.toml"
    drill.write_text(
        'name = "five"\ntitle = "Five [bold]"\nstake = "a [red] ball"\n'
        '[[stage]]\nmake = 5\nmisses_allowed = 0\non_fault = "end"\nforfeit = "[/x] press-up"\n'
    )
    done = puttvision("score", putts_file(tmp_path, "M X"), "--drill", drill, "--out", tmp_path)
    assert done.returncode == 0, done.stderr
    for text in ("Five [bold]", "a [red] ball", "[/x] press-up", "NOT MADE"):
        assert text in done.stdout


@pytest.mark.parametrize(
    ("args", "words"),
    [
        pytest.param(["{putts}", "--drill", "nine-six-tree"], ["nine-six-three"], id="misspelt drill"),
        pytest.param(["{putts}", "--drill", "no.toml"], ["cannot read no.toml"], id="no such drill file"),
        pytest.param(
            ["{putts}", "--drill", "nine-six-three", "--strict"], ["takes no --strict"], id="wrong option"
        ),
        pytest.param(
            ["{putts}", "--drill", "hole-by-hole", "--players", "Ines"], ["Ines,Oluf"], id="one player"
        ),
        pytest.param(["nowhere.mp4", "--drill", "nine-six-three"], ["no file nowhere.mp4"], id="no clip"),
        pytest.param(["nowhere.json", "--drill", "nine-six-three"], ["nowhere.json"], id="no putts.json"),
        pytest.param(["{folder}", "--drill", "nine-six-three"], ["is a folder"], id="a folder"),
        pytest.param(["{bad}", "--drill", "nine-six-three"], ["bad.json", "not JSON"], id="no JSON"),
    ],
)
def test_unfit_input_is_one_line_and_writes_nothing(tmp_path, args, words):
    (tmp_path / "bad.json").write_text("{")
    places = {"putts": putts_file(tmp_path, "M"), "folder": tmp_path, "bad": tmp_path / "bad.json"}
    done = puttvision("score", *(arg.format(**places) for arg in args), "--out", tmp_path / "out")
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert "Traceback" not in done.stderr
    for word in words:
        assert word in done.stderr
    assert not (tmp_path / "out").exists()


def test_wrong_usage_is_exit_code_2(tmp_path):
    assert run.invoke(app, ["score", str(putts_file(tmp_path, "M"))]).exit_code == 2


def test_drills_lists_shows_and_draws(tmp_path):
    listed = puttvision("drills")
    assert listed.returncode == 0, listed.stderr
    for name in ("head-gate-streak", "ball-gate-points", "nine-six-three", "clock-round"):
        assert name in listed.stdout
    shown = puttvision("drills", "show", "head-gate-streak", "--target", "9", "--svg", tmp_path / "a.svg")
    assert shown.returncode == 0, shown.stderr
    assert "make nine in a row" in shown.stdout
    assert "head gate" in shown.stdout
    assert (tmp_path / "a.svg").read_text().startswith("<svg")
    again = puttvision("drills", "show", "head-gate-streak", "--svg", tmp_path / "a.svg")
    assert again.returncode == 1
    assert "nothing was overwritten" in again.stderr


def test_new_drill_is_checked_and_never_overwritten(tmp_path):
    file = tmp_path / "my-three.toml"
    made = run.invoke(app, ["drills", "new", str(file), "--like", "nine-six-three"])
    assert made.exit_code == 0
    before = file.read_text()
    assert 'name = "my-three"' in before
    checked = run.invoke(app, ["drills", "check", str(file)])
    assert checked.exit_code == 0
    assert "good drill file" in checked.stdout
    again = puttvision("drills", "new", file)
    assert again.returncode == 1
    assert "nothing was overwritten" in again.stderr
    assert file.read_text() == before


def test_every_drill_of_the_catalogue_is_a_template(tmp_path):
    from puttvision.drill.catalogue import names

    for name in names():
        file = tmp_path / f"my-{name}.toml"
        assert run.invoke(app, ["drills", "new", str(file), "--like", name]).exit_code == 0
        assert run.invoke(app, ["drills", "check", str(file)]).exit_code == 0


def test_check_names_the_fault(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text('name = "mine"\n[[stage]]\nmake = 3\nmiss_allowed = 1\n')
    done = puttvision("drills", "check", file)
    assert done.returncode == 1
    assert done.stderr == (
        f'puttvision: {file}, stage 1: "miss_allowed" is no key here; nearest: "misses_allowed"\n'
    )


def test_source_and_keys():
    source = run.invoke(app, ["drills", "show", "nine-six-three", "--source"])
    assert source.stdout.startswith('name = "nine-six-three"')
    assert "`misses_allowed`" in run.invoke(app, ["drills", "keys"]).stdout


def test_help_needs_no_heavy_import():
    program = (
        "import sys\nfrom typer.testing import CliRunner\nfrom puttvision.cli.app import app\n"
        "assert CliRunner().invoke(app, ['score', '--help']).exit_code == 0\n"
        "sys.exit(sorted({m.split('.')[0] for m in sys.modules} & {'cv2', 'av', 'scipy', 'skimage'}) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
