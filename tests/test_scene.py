"""scene.json: what is written is read back; what does not hold to the format is named."""

import json
from dataclasses import replace

import pytest

from puttvision.errors import SceneFileError
from puttvision.scene import AtHole, Moved, PuttPath, Scene, Seen, Step, View, from_json, load, to_text

VIEW = View(
    width=1920, height=1080, f_px=1402.9, cx_px=961.2, cy_px=539.5, k1=0.01, k2=-0.002, height_m=1.4,
    tilt_rad=0.41, roll_rad=0.01,
)  # fmt: skip
PUTT = PuttPath(
    number=2,
    lie_m=(-1.5, 3.2),
    heading_rad=-0.011,
    start_s=1.6,
    end_s=3.75,
    seen=(Seen(1.616667, 386.656, 568.488, 8.513), Seen(1.633333, 403.792, 568.539, 8.516)),
    path=(Step(1.6, -1.5, 3.2, 2.6), Step(1.65, -1.37, 3.2, 2.4)),
    at_hole=AtHole(nearest_m=(1.56, 3.24), heading_rad=0.058, time_s=3.741),
    rest_m=None,
)
SCENE = Scene(
    view=VIEW,
    readout_s=0.01,
    hole_m=(1.56, 3.25),
    posts_m=((-1.04, 3.23), (-1.04, 3.16)),
    post_height_m=0.04,
    putts=(PUTT, replace(PUTT, number=5, at_hole=None, rest_m=(1.0, 3.0))),
)
MOVES = (Moved(4.0, 0.01, -0.02, 0.003, 0.0, 0.0, 0.01), Moved(4.5, 0.012, -0.022, 0.01, 0.0, 0.0, 0.02))


@pytest.mark.parametrize(
    "scene",
    [
        SCENE,
        replace(SCENE, posts_m=None),
        replace(SCENE, putts=()),
        replace(SCENE, capture_rate_hz=240.0),
        replace(SCENE, moved=MOVES),
    ],
    ids=["whole", "no gate", "no putt", "slow motion", "bumped"],
)
def test_what_is_written_is_read_back(scene, tmp_path):
    (tmp_path / "scene.json").write_text(to_text(scene))
    assert load(tmp_path / "scene.json") == scene


def test_the_camera_is_where_it_was_last_seen_to_be():
    bumped = replace(SCENE, moved=MOVES)
    at = [bumped.moved_at(time_s) for time_s in (0.0, 3.98, 3.99999, 4.3, 4.5, 9.0)]
    assert at == [None, None, MOVES[0], MOVES[0], MOVES[1], MOVES[1]]
    assert SCENE.moved_at(9.0) is None
    assert '"moved"' not in to_text(SCENE)  # a file of a camera that stood is as it was before
    with pytest.raises(ValueError, match="times rise"):
        replace(SCENE, moved=MOVES[::-1])


def test_a_putt_is_found_by_its_number():
    assert SCENE.putt(5).rest_m == (1.0, 3.0)
    assert SCENE.putt(3) is None


def broken(*keys, value):
    data = json.loads(to_text(SCENE))
    at = data
    for key in keys[:-1]:
        at = at[key]
    at[keys[-1]] = value
    return data


@pytest.mark.parametrize(
    ("keys", "value", "message"),
    [
        (("format",), "other/1", 'format: "puttvision-scene/1" was due'),
        (("view", "f_px"), 0, "view, f_px: a number above 0"),
        (("view", "width"), True, "view, width: a whole number"),
        (("view", "k1"), "0.1", "view, k1: a number was due"),
        (("view",), None, "view: an object was due"),
        (("hole_m",), [1.0], "hole_m: two numbers"),
        (("posts_m",), [[1.0, 2.0]], "posts_m: two places"),
        (("moved",), [[1.0, 2.0]], "moved: a list of rows of 7 numbers"),
        (("moved",), [[2.0] * 7, [1.0] * 7], "moved: rows whose times rise"),
        (("putts",), {}, "putts: a list of putts"),
        (("putts", 1, "seen"), [[1.0, 2.0, 3.0]], "putt 2 in the list, seen: a list of rows of 4 numbers"),
        (("putts", 0, "path"), [[1.0, 0, 0, 0], [1.0, 0, 0, 0]], "times rise along a putt"),
        (("putts", 0, "path"), "text", "path: a list of rows"),
        (("putts", 0, "at_hole"), {"nearest_m": [0, 0]}, "at_hole, heading_rad: a number was due"),
        (("putts", 0, "lie_m"), [1.0, float("nan")], "lie_m: two numbers"),
    ],
)
def test_faults_are_named(keys, value, message):
    with pytest.raises(SceneFileError, match="scene") as fault:
        from_json(broken(*keys, value=value))
    assert message in str(fault.value)
    assert "\n" not in str(fault.value)


def test_a_missing_file_says_who_writes_it(tmp_path):
    with pytest.raises(SceneFileError, match="puttvision measure"):
        load(tmp_path / "scene.json")


def test_no_json(tmp_path):
    (tmp_path / "scene.json").write_text("putts")
    with pytest.raises(SceneFileError, match="is not JSON"):
        load(tmp_path / "scene.json")
