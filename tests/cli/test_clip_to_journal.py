"""`measure --player` and `score CLIP`: a clip goes to the journal once, and is told what was not found."""

import json

import little_clip
import pytest
from typer.testing import CliRunner

from puttvision.cli.app import app

OTHER_GATE = ("--gate", "10,10", "20,20")


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    return little_clip.pack(tmp_path_factory.mktemp("clip") / "practice.mp4", list(little_clip.pictures()))


@pytest.fixture
def run(tmp_path):
    def command(*words):
        store = str(tmp_path / "journal.db")
        words = [str(word) for word in words]
        return CliRunner().invoke(app, words, env={"PUTTVISION_STORE": store, "COLUMNS": "200"})

    command("players", "add", "Ines", "--consent")
    command("players", "add", "Oluf", "--no-consent")
    return command


def not_to_be_measured(monkeypatch):
    """Fail where a clip is measured after all."""

    def measured(*_args, **_keywords):
        raise AssertionError("measured although it cannot be kept")

    monkeypatch.setattr("puttvision.cli.measure.measure_to", measured)


def test_a_clip_is_kept_once_however_often_it_is_measured(run, clip, tmp_path):
    words = ("measure", clip, "--player", "Ines", "--date", "2026-05-04", "--out", tmp_path / "o")
    first = run(*words)
    assert first.exit_code == 0, first.output
    assert "kept in the journal: Ines, 2026-05-04, 1 putt\n" in first.output
    assert "kept for 2026-05-04; nothing was added" in run(*words).output
    scored = run(
        "score", clip, "--drill", "ball-gate-points", "--player", "Ines", "--date", "2026-06-01", "--no-gate",
        "--out", tmp_path / "s",
    )  # fmt: skip
    assert "kept for 2026-05-04; the drill was added to them" in scored.output
    # without its gate a holed putt has not gone through it: still a point, by the drill's own rule
    card = json.loads((tmp_path / "s" / "scorecard.json").read_text())
    assert card["points"] == 1
    assert json.loads((tmp_path / "s" / "putts.json").read_text())["gate"] is None
    assert "1 session, 1 putt removed" in run("players", "forget", "Ines").output


def test_score_tells_the_clip_its_gate_as_measure_does(run, clip, tmp_path):
    feet = [little_clip.VIEW.project([*tee, 0.0]) for tee in little_clip.TEES_M]
    said = ("--gate", *(f"{u:.1f},{v:.1f}" for u, v in feet))
    done = run("score", clip, "--drill", "ball-gate-points", *said, "--out", tmp_path / "said")
    assert done.exit_code == 0, done.output
    placed = json.loads((tmp_path / "said" / "putts.json").read_text())["gate"]
    assert placed["distance_m"]["value"] == pytest.approx(0.45, abs=0.02)  # as filmed


@pytest.mark.parametrize(
    ("player", "why"),
    [
        pytest.param("Inez", 'did you mean "Ines"', id="a slip in the name"),
        pytest.param("Oluf", "no consent to film Oluf", id="no consent to film"),
    ],
)
@pytest.mark.parametrize("command", ["measure", "score"])
def test_who_cannot_be_kept_is_told_before_the_wait(run, clip, tmp_path, monkeypatch, command, player, why):
    not_to_be_measured(monkeypatch)
    words = ["--drill", "ball-gate-points"] if command == "score" else []
    done = run(command, clip, *words, "--player", player, "--out", tmp_path / "o")
    assert done.exit_code == 1
    assert why in str(done.exception)
    assert not (tmp_path / "o").exists()


@pytest.mark.parametrize(
    ("words", "why"),
    [
        pytest.param(["--date", "2026-05-04"], "--date goes with --player", id="date of nobody"),
        pytest.param(["--player", "Ines", "--date", "May"], "such as 2026-04-30", id="no date"),
        pytest.param(["--no-gate", *OTHER_GATE], "exclude each other", id="a gate and none"),
        pytest.param(["--hole", "10"], "two numbers with a comma", id="half a hole"),
        pytest.param(["--capture-rate", "0"], "1 to 2000", id="no rate"),
        pytest.param(["--sheet", "3:1,1"], "four corners", id="one corner"),
    ],
)
@pytest.mark.parametrize("command", ["measure", "score"])
def test_wrong_words_are_usage_errors(run, clip, monkeypatch, command, words, why):
    not_to_be_measured(monkeypatch)
    drill = ["--drill", "ball-gate-points"] if command == "score" else []
    done = run(command, clip, *drill, *words)
    assert done.exit_code == 2
    assert why in " ".join(done.output.replace("│", " ").split())


@pytest.mark.parametrize(
    "words", [["--hole", "1,1"], OTHER_GATE, ["--no-gate"], ["--capture-rate", "240"]], ids=lambda w: w[0]
)
def test_words_about_a_clip_do_not_go_with_a_list(run, tmp_path, words):
    sheet = tmp_path / "putts.json"
    sheet.write_text('{"format": "puttvision-putts/1", "putts": []}')
    done = run("score", sheet, "--drill", "ball-gate-points", *words)
    assert done.exit_code == 2
    assert "go with a clip" in done.output
