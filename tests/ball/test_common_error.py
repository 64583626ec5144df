"""What all ball centres of a clip may be off by together."""

import pytest

from puttvision.ball.common_error import U_CENTRES_PX, u_centres_px
from puttvision.ball.shading import Shading


def light(even, sky, sun):
    return Shading((0.0, -0.6, 0.8), (even, sky, sun))


def test_clouds_and_a_plain_sun_leave_little_doubt():
    assert u_centres_px(light(0.1, 0.6, 0.0)) < 0.15
    assert u_centres_px(light(0.05, 0.2, 1.6)) < 0.15


def test_light_that_may_be_the_suns_or_the_skys_leaves_more():
    assert u_centres_px(light(0.4, 0.2, 0.6)) == pytest.approx(U_CENTRES_PX, rel=0.1)


def test_where_the_light_is_not_known_the_worst_is_taken():
    assert u_centres_px(None) == U_CENTRES_PX
