"""What of a ball is bright: against the geometry of a lit sphere."""

import numpy as np
import pytest
from little_green import View

from puttvision.ball.bright_part import WHOLE, BrightParts, bright_part
from puttvision.ball.shading import Shading

CAMERA = View().camera()
AT_M = (0.0, 2.7)


def lit(sun, lights=(0.02, 0.1, 1.0), least=0.3):
    sun = np.array(sun, dtype=float)
    return bright_part(CAMERA, AT_M, Shading(tuple(sun / np.linalg.norm(sun)), lights), least)


def test_a_sun_behind_the_camera_lights_nearly_all():
    part = lit((0.0, -1.0, 0.5))
    assert part.share > 0.75
    assert np.hypot(*part.off) < 0.15


def test_a_sun_square_to_the_view_lights_half():
    # of a sphere lit from the side half is in the sun, where n.s > 0; its middle lies 4 / (3 pi) = 0.424
    # radii from the sphere's (centroid of a half disc)
    part = lit((1.0, 0.0, 0.001), lights=(0.0, 0.0, 1.0), least=0.001)
    assert part.share == pytest.approx(0.5, abs=0.03)
    assert part.off[0] == pytest.approx(0.424, abs=0.04)
    assert part.off[1] == pytest.approx(0.0, abs=0.03)


def test_a_low_sun_from_beyond_lights_a_crescent_on_top():
    part = lit((0.2, 0.7, 0.7))
    assert part.share < 0.4
    assert part.off[1] < -0.4  # up in the picture
    # all of a ball that lies in shade is bright, so its patch's middle is the ball's
    parts = BrightParts((0.0,), (part,))
    whole, crescent = parts.off_px(np.zeros(2), np.array([1.0, part.share]), np.array([10.0, 10.0]))
    assert np.hypot(*whole) == pytest.approx(0.0, abs=1e-9)
    assert crescent == pytest.approx(10 * np.array(part.off))


def test_between_two_columns_it_changes_evenly():
    left, right = lit((0.2, 0.7, 0.7)), lit((1.0, 0.0, 0.2))
    parts = BrightParts((100.0, 300.0), (left, right))
    assert parts.share(np.array([0.0, 200.0, 300.0])) == pytest.approx(
        [left.share, (left.share + right.share) / 2, right.share]
    )
    off_px = parts.off_px(np.array([200.0]), np.array([0.0]), np.array([10.0]))[0]
    assert off_px == pytest.approx(5 * (np.array(left.off) + np.array(right.off)))


def test_where_nothing_stands_out_the_whole_is_looked_for():
    assert lit((0.0, 1.0, 0.2), lights=(0.02, 0.05, 0.0)) == WHOLE
