"""`puttvision clips` as a coach types it."""

import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from puttvision.cli.app import app
from puttvision.files import write_json, write_text
from puttvision.putts import to_json
from puttvision.scene import to_text

sys.path.insert(0, str(Path(__file__).parents[1] / "review" / "clips"))
import clip_setting as film


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    folder = tmp_path_factory.mktemp("measured")
    film.write_film(folder / "c.mp4")
    write_json(folder / "putts.json", to_json(film.sheet()))
    write_text(folder / "scene.json", to_text(film.scene()))
    return folder


def run(*words):
    return CliRunner().invoke(app, ["clips", *map(str, words)])


def test_one_clip_a_putt_and_one_of_the_drill(measured, tmp_path):
    done = run(
        measured / "c.mp4", "--measured", measured / "putts.json", "--drill", "ball-gate-points",
        "--putts", 10, "--out", tmp_path,
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert sorted(path.name for path in tmp_path.iterdir()) == ["drill.mp4", "putt-01.mp4", "putt-02.mp4"]
    assert done.output.count("written:") == 3


def test_only_some_putts(measured, tmp_path):
    done = run(measured / "c.mp4", "--measured", measured, "--only", "2", "--out", tmp_path)
    assert done.exit_code == 0, done.output
    assert [path.name for path in tmp_path.iterdir()] == ["putt-02.mp4"]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--only", "7"], 1, "no filmed putt 7"),
        (["--only", "two"], 2, "--only"),
        (["--strict"], 2, "--drill"),
        (["--drill", "no-such-drill"], 1, "no-such-drill"),
    ],
)
def test_what_does_not_fit_is_named_and_nothing_is_left(measured, tmp_path, words, code, said):
    done = run(measured / "c.mp4", "--measured", measured, "--out", tmp_path / "out", *words)
    text = f"{done.output}{done.exception}"
    assert done.exit_code == code, text
    assert said in text
    assert not (tmp_path / "out").exists() or not list((tmp_path / "out").iterdir())


def test_putts_entered_by_hand_have_no_film(measured, tmp_path):
    write_json(tmp_path / "putts.json", {"format": "puttvision-putts/1", "putts": []})
    done = run(measured / "c.mp4", "--measured", tmp_path / "putts.json")
    assert done.exit_code == 1
    assert "entered by hand" in str(done.exception)


def test_a_measurement_without_scene_says_how_to_get_one(measured, tmp_path):
    write_json(tmp_path / "putts.json", to_json(film.sheet()))
    done = run(measured / "c.mp4", "--measured", tmp_path)
    assert done.exit_code == 1
    assert "puttvision measure" in str(done.exception)
