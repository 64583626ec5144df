"""Colour over luma: grass, balls, and the plane in which they differ. Chroma by ITU-R BT.709's equations."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from little_green import BALL_RADIUS_M, Scene, View, box_round, film
from little_green import GRASS as LINEAR_GRASS

from puttvision.ball.colour import FrameColour, GrassHue, grass_hue
from puttvision.ball.finder import ball_radius_px
from puttvision.ball.look import Earlier, Look
from puttvision.green.edges import linear_light

GRASS, WHITE, ORANGE, YELLOW = (60, 105, 40), (235, 235, 235), (240, 120, 30), (220, 215, 40)
SIZE = (480, 640)
VIEW = View()
CAMERA = VIEW.camera()
AT_M = (0.05, 2.7)
AT_PX = VIEW.project([*AT_M, BALL_RADIUS_M])


def planes(colour, light=1.0, at_px=AT_PX):
    """Luma, Cb and Cr at half the size, limited range, of a disc on grass; ``light`` dims both alike."""
    rgb = np.empty((*SIZE, 3), np.float32)
    rgb[:] = GRASS
    cv2.circle(
        rgb, (round(at_px[0] * 16), round(at_px[1] * 16)), round(ball_radius_px(CAMERA, AT_PX) * 16), colour,
        -1, cv2.LINE_AA, 4,
    )  # fmt: skip
    red, green, blue = (light * rgb[..., i] / 255 for i in range(3))
    y = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    luma = np.round(16 + 219 * y).astype(np.uint8)
    small = (SIZE[1] // 2, SIZE[0] // 2)
    cb, cr = (
        np.round(128 + 224 * cv2.resize(c, small, interpolation=cv2.INTER_AREA)).astype(np.uint8)
        for c in ((blue - y) / 1.8556, (red - y) / 1.5748)
    )
    return luma, cb, cr


def hue_of_grass():
    luma, cb, cr = planes(GRASS)
    return grass_hue(luma, cb, cr, np.ones(SIZE, np.uint8))


def frame(colour, light=1.0, warp=None, at_px=AT_PX):
    luma, cb, cr = planes(colour, light, at_px)
    return FrameColour(luma, lambda: (cb, cr), hue_of_grass(), warp)


@pytest.mark.parametrize("light", [1.0, 0.45], ids=["sun", "shade"])
@pytest.mark.parametrize("ball", [WHITE, ORANGE, YELLOW], ids=["white", "orange", "yellow"])
def test_a_ball_is_no_grass_in_sun_and_in_shade(ball, light):
    grass, seen = hue_of_grass(), frame(ball, light)
    assert grass.tells
    radius_px = ball_radius_px(CAMERA, AT_PX)
    assert grass.is_other(seen.hue(AT_PX, radius_px))
    assert not grass.is_other(seen.hue(np.add(AT_PX, (0, 4 * radius_px)), radius_px))


def test_what_is_too_dark_has_no_colour():
    assert frame(WHITE, 0.05).hue(np.add(AT_PX, (60, 0)), 8.0) is None
    assert frame(WHITE).hue((-40.0, 20.0), 8.0) is None  # out of the picture


def test_grey_grass_tells_nothing():
    assert not GrassHue(-0.03, 0.02).tells


@pytest.mark.parametrize("ball", [WHITE, ORANGE], ids=["white", "orange"])
def test_the_mixed_plane_parts_ball_and_grass_more_than_luma(ball):
    seen = frame(ball, 0.5)
    box = (slice(int(AT_PX[1]) - 30, int(AT_PX[1]) + 31), slice(int(AT_PX[0]) - 30, int(AT_PX[0]) + 31))
    mixed = seen.plane(seen.hue(AT_PX, 8.0))
    assert mixed.shape == SIZE

    def step(plane):
        return float(plane[27:34, 27:34].mean()) - float(plane[:8].mean())

    assert step(mixed[box]) > step(seen.luma[box]) + 15


@pytest.mark.parametrize("light", [1.0, 0.45], ids=["sun", "shade"])
@pytest.mark.parametrize("ball", [WHITE, ORANGE, YELLOW], ids=["white", "orange", "yellow"])
def test_how_far_off_grass_a_picture_is(ball, light):
    seen = frame(ball, light)
    small = cv2.resize(seen.luma, (SIZE[1] // 2, SIZE[0] // 2), interpolation=cv2.INTER_AREA)
    away = seen.off_grass(small)
    assert away.shape == small.shape
    u, v = np.round(AT_PX / 2).astype(int)
    assert away[v, u] > 24 * light
    assert np.median(away) <= 2  # grass in the same light
    # the disc lies where luma has it
    weight = np.maximum(away.astype(float) - away[v, u] / 3, 0)
    rows, columns = np.mgrid[: away.shape[0], : away.shape[1]]
    middle = np.array([(columns * weight).sum(), (rows * weight).sum()]) / weight.sum()
    assert np.abs((middle + 0.5) * 2 - 0.5 - AT_PX).max() < 0.7


def test_off_grass_where_the_camera_has_moved():
    warp = np.array([[1.0, 0.0, 12.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    still, aside = frame(ORANGE), planes(ORANGE, at_px=np.add(AT_PX, (12, 0)))
    moved = FrameColour(still.luma, lambda: aside[1:], hue_of_grass(), warp)
    small = cv2.resize(still.luma, (SIZE[1] // 2, SIZE[0] // 2), interpolation=cv2.INTER_AREA)
    assert np.abs(moved.off_grass(small).astype(int) - still.off_grass(small)).mean() < 0.5


def test_the_mixed_plane_lies_on_the_luma():
    # chroma at half the size, sited as ITU-T H.264 has it by default: the disc's middle does not wander
    seen = frame(ORANGE)
    x0, y0 = int(AT_PX[0]) - 20, int(AT_PX[1]) - 20
    cut = seen.plane(seen.hue(AT_PX, 8.0))[y0 : y0 + 41, x0 : x0 + 41].astype(float)
    weight = np.maximum(cut - np.median(cut) - 20, 0)
    rows, columns = np.mgrid[y0 : y0 + 41, x0 : x0 + 41]
    middle = np.array([(columns * weight).sum(), (rows * weight).sum()]) / weight.sum()
    assert np.abs(middle - AT_PX).max() < 0.5


def test_a_camera_that_moved_is_followed():
    # the frame as recorded is 12 pixels aside; luma has been brought back, chroma has not
    warp = np.array([[1.0, 0.0, 12.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    still, aside = frame(ORANGE), planes(ORANGE, at_px=np.add(AT_PX, (12, 0)))
    seen = FrameColour(still.luma, lambda: aside[1:], hue_of_grass(), warp)
    assert np.hypot(*(seen.hue(AT_PX, 8.0) - still.hue(AT_PX, 8.0))) < 0.03


def test_grass_is_no_ball_even_where_its_light_looks_like_one():
    # a ball-shaped, bright tuft of grass: luma alone would take it
    tuft = Scene(balls_m=(AT_M,), ball_colour=tuple(3.0 * LINEAR_GRASS), speckle=0.0)
    seen = film(VIEW, tuft, fine=[box_round(VIEW, AT_M, 0.06)])
    look = Look(camera=CAMERA, table=linear_light(2.5))
    assert look.at(seen.luma, AT_M, 3.0) is not None
    hue = grass_hue(seen.luma, seen.cb, seen.cr, np.ones(seen.luma.shape, np.uint8))
    told = replace(look, colour=FrameColour(seen.luma, lambda: (seen.cb, seen.cr), hue))
    assert told.at(seen.luma, AT_M, 3.0) is None


def test_a_ball_no_lighter_than_the_grass_it_comes_to_is_found_by_its_colour():
    dull = Scene(balls_m=(AT_M,), ball_colour=(0.42, 0.03, 0.02), speckle=0.0)
    now = film(VIEW, dull, fine=[box_round(VIEW, AT_M, 0.06)])
    bare = film(VIEW, Scene(speckle=0.0))
    hue = grass_hue(bare.luma, bare.cb, bare.cr, np.ones(bare.luma.shape, np.uint8))
    colours = [FrameColour(p.luma, lambda p=p: (p.cb, p.cr), hue) for p in (now, bare)]
    look = Look(camera=CAMERA, table=linear_light(2.5))
    told = replace(look, colour=colours[0])
    beside_m = (AT_M[0] - 0.1, AT_M[1])
    assert look.newly_there(now.luma, Earlier(bare.luma), beside_m, 0.3, shading=None) == []
    kept = Earlier(bare.luma, colours[1].kept(bare.luma))
    (ball,) = told.newly_there(now.luma, kept, beside_m, 0.3, shading=None)
    assert np.hypot(*(np.array(ball.at_m) - AT_M)) < 0.005
