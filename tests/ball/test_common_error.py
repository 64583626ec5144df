"""What all ball centres of a clip may be off by together."""

from puttvision.ball.common_error import U_CENTRES_PX, u_centres_px
from puttvision.ball.light import Light
from puttvision.ball.shading import Shading


def light(even, sky, sun, *, by_shadow=False):
    return Light(Shading((0.0, -0.6, 0.8), (even, sky, sun)), by_shadow=by_shadow)


def test_clouds_and_a_sun_that_casts_shadows_leave_little_doubt():
    assert u_centres_px(light(0.05, 0.6, 0.0)) < 0.1
    assert u_centres_px(light(0.05, 0.2, 1.6, by_shadow=True)) < 0.15


def test_a_sun_that_only_the_balls_tell_of_leaves_more():
    by_shadow, by_face = (u_centres_px(light(0.05, 0.3, 0.8, by_shadow=shadow)) for shadow in (True, False))
    assert by_shadow < by_face < U_CENTRES_PX
    doubt = [u_centres_px(light(0.05, 0.7, sun)) for sun in (0.0, 0.08, 0.12, 0.3)]
    assert doubt == sorted(doubt)
    assert doubt[0] < doubt[2] < doubt[3]


def test_where_the_light_is_not_known_the_worst_is_taken():
    assert u_centres_px(None) == U_CENTRES_PX
