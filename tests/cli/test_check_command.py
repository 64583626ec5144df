"""`puttvision check` on a small clip: what stands in it is found, said, drawn and written."""

import json
import sys

import cv2
import little_clip
import numpy as np
import pytest
from little_green import Reel, Scene, Tee
from little_sheet import lay

from puttvision.cli.app import main

TURNED_DEG = 9.0


def pictures(*, hole=True, turned_deg=0.0, shake_px=0.0, n=8):
    """The little clip's green with a ball at rest; the gate turned to the right, the phone shaken once."""
    along, right = little_clip.ALONG, little_clip.RIGHT
    turn = np.radians(turned_deg)
    normal = np.cos(turn) * along + np.sin(turn) * right
    across = np.array([normal[1], -normal[0]])
    tees = tuple(
        Tee(tuple(little_clip.LIE_M + 0.45 * along + side * 0.042 * across), colour=little_clip.WHITE)
        for side in (-1, 1)
    )
    stage = Scene(hole_m=tuple(little_clip.HOLE_M) if hole else None, tees=tees)
    reel = Reel(
        little_clip.VIEW, stage, n=2,
        lay=lambda luma: [lay(little_clip.VIEW, luma, i, *place) for i, place in little_clip.SHEETS.items()],
    )  # fmt: skip
    for k in range(n):
        luma = reel.frame([stage.with_ball(little_clip.LIE_M)], [little_clip.LIE_M])
        if shake_px and k == n - 1:
            luma = cv2.warpAffine(luma, np.array([[1, 0, shake_px], [0, 1, 0.0]]), luma.shape[::-1],
                                  borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
        yield luma


@pytest.fixture
def run(monkeypatch, capfd):
    def command(*words):
        monkeypatch.setattr(sys, "argv", ["puttvision", *map(str, words)])
        monkeypatch.setenv("NO_COLOR", "1")
        monkeypatch.setenv("COLUMNS", "160")
        capfd.readouterr()
        code = 0
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
        return code, *capfd.readouterr()

    return command


@pytest.fixture(scope="module")
def turned(tmp_path_factory):
    return little_clip.pack(tmp_path_factory.mktemp("clip") / "turned.mp4", pictures(turned_deg=TURNED_DEG))


def test_a_turned_gate_is_said_first_and_drawn(run, turned, tmp_path):
    code, out, err = run("check", turned, "--out", tmp_path / "new")
    assert (code, err) == (0, "")
    assert out.splitlines()[0].split()[0] in ("mend", "better")
    assert "to the right of the line" in out
    for words in (
        "sheets 0 and 3",
        "ball 5.3 ft (1.62 m) from the hole",
        "mm wider than the ball",
        "stands still",
    ):
        assert words in out
    assert sorted(p.name for p in (tmp_path / "new").iterdir()) == ["check.json", "check.png"]
    picture = cv2.imread(str(tmp_path / "new" / "check.png"))
    assert picture.shape[1] >= 1280


def test_figures_are_those_of_the_scene(run, turned, tmp_path):
    code, out, _ = run("check", turned, "--out", tmp_path, "--json")
    assert code == 0
    data = json.loads(out)
    assert data == json.loads((tmp_path / "check.json").read_text(encoding="utf-8"))
    assert data["format"] == "puttvision-check/1"
    assert data["sheets"] == [0, 3]
    assert data["hole_px"] == pytest.approx(little_clip.VIEW.project([*little_clip.HOLE_M, 0.0]), abs=0.6)
    gate = data["gate"]
    assert gate["kind"] == "ball gate"
    for key, true in (("square_deg", TURNED_DEG), ("gap_mm", 84 - 4.6), ("off_mm", 0.0)):
        assert abs(gate[key]["value"] - true) < 1.5 * gate[key]["u95"]
    assert gate["distance_m"]["value"] == pytest.approx(0.45, abs=0.01)
    assert 0.05 < data["start_line_u95_deg"] < 1.0
    assert data["change"] is None or data["change"]["start_line_u95_deg"] < data["start_line_u95_deg"]
    assert data["phone_moved_px"] < 0.3


def test_a_phone_that_was_moved(run, tmp_path):
    path = little_clip.pack(tmp_path / "shaken.mp4", pictures(shake_px=6.0))
    code, out, _ = run("check", path, "--out", tmp_path / "out", "--json")
    assert code == 0
    data = json.loads(out)
    assert data["phone_moved_px"] == pytest.approx(6.0, abs=0.7)
    assert data["good"] is False
    assert any("phone moved" in verdict["words"] for verdict in data["verdicts"])


def test_without_a_hole_the_rest_is_told(run, tmp_path):
    path = little_clip.pack(tmp_path / "bare.mp4", pictures(hole=False))
    code, out, _ = run("check", path, "--out", tmp_path / "out")
    assert code == 0
    assert out.splitlines()[0].startswith("  mend  no hole found")
    assert "sheets 0 and 3" in out


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("nothing.mp4",), 1, "no such file"),
        (("nothing.mp4", "--head", "3"), 2, "--head"),
        (("nothing.mp4", "--wrong"), 2, "--wrong"),
    ],
)
def test_what_cannot_be_checked(run, tmp_path, monkeypatch, words, code, says):
    monkeypatch.chdir(tmp_path)
    got, out, err = run("check", *words)
    assert (got, out) == (code, "")
    assert says in err
    assert list(tmp_path.iterdir()) == []
