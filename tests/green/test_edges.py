"""Sub-pixel edges on drawn discs: where light has risen half way, whatever the tone curve does."""

import cv2
import numpy as np
import pytest

from puttvision.green.edges import edge_offsets, linear_light, outward_normals

CENTRE, RADIUS = (60.3, 55.8), 21.4


def disc(inside, outside, *, blur_px=0.8, gamma=2.2, axes=(RADIUS, RADIUS), noise=0.0, grow=16):
    """A disc by supersampling: area, then blur in light, then the tone curve; (110, 120) of uint8."""
    n = (np.arange(120 * grow) + 0.5) / grow - 0.5
    x, y = np.meshgrid(n, n[: 110 * grow])
    within = ((x - CENTRE[0]) / axes[0]) ** 2 + ((y - CENTRE[1]) / axes[1]) ** 2 < 1
    share = cv2.resize(within.astype(np.float32), (120, 110), interpolation=cv2.INTER_AREA)
    light = outside + (inside - outside) * cv2.GaussianBlur(share, (0, 0), blur_px)
    luma = 16 + 219 * light ** (1 / gamma)
    luma += np.random.default_rng(1).normal(0, noise, luma.shape)
    return np.clip(np.round(luma), 0, 255).astype(np.uint8)


def ring(axes=(RADIUS, RADIUS), grown=0.0, n=64):
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    return np.column_stack(
        [CENTRE[0] + (axes[0] + grown) * np.cos(angle), CENTRE[1] + (axes[1] + grown) * np.sin(angle)]
    )


def test_the_table_is_video_luma():
    # ITU-R BT.709, 8 bit: black at 16, white at 235
    table = linear_light(2.2)
    assert table.shape == (256,)
    assert table[16] == 0
    assert table[0] == 0
    assert table[235] == pytest.approx(1.0)
    assert table[16 + 110] == pytest.approx((110 / 219) ** 2.2, rel=1e-5)
    assert (np.diff(table[16:250]) > 0).all()


@pytest.mark.parametrize(("inside", "outside"), [(0.7, 0.1), (0.05, 0.4)], ids=["bright", "dark"])
@pytest.mark.parametrize("blur_px", [0.5, 1.2])
def test_the_edge_is_where_it_was_drawn(inside, outside, blur_px):
    # blur draws a curved edge inwards by blur^2 / 2R: 0.006 and 0.034 px here
    found = edge_offsets(disc(inside, outside, blur_px=blur_px), ring(), 5.0, linear_light(2.2))
    assert np.isfinite(found.offset_px).all()
    assert np.abs(found.offset_px).mean() < 0.08
    assert np.abs(found.offset_px).max() < 0.12
    assert np.median(found.step) == pytest.approx(inside - outside, rel=0.05)


@pytest.mark.parametrize("grown", [-1.5, 0.7, 2.0])
def test_an_outline_that_is_too_large_or_small_is_told_by_how_much(grown):
    # positive outwards: the edge lies inside an outline that is too large
    found = edge_offsets(disc(0.7, 0.1), ring(grown=grown), 5.0, linear_light(2.2))
    assert np.nanmedian(found.offset_px) == pytest.approx(-grown, abs=0.05)


def test_without_linear_light_white_would_grow():
    # the trap: half of luma's step lies outside of half of light's; a table without a tone curve shows it
    straight = (np.clip((np.arange(256) - 16) / 219, 0, 1.1)).astype(np.float32)
    seen = disc(0.7, 0.02, blur_px=1.0)
    right = edge_offsets(seen, ring(), 5.0, linear_light(2.2))
    wrong = edge_offsets(seen, ring(), 5.0, straight)
    assert abs(np.nanmean(right.offset_px)) < 0.05
    assert np.nanmean(wrong.offset_px) > 0.2


def test_a_flat_ellipse():
    axes = (24.0, 9.0)
    found = edge_offsets(disc(0.02, 0.3, axes=axes, blur_px=0.5), ring(axes), 3.0, linear_light(2.2))
    assert np.abs(found.offset_px).mean() < 0.06


def test_where_there_is_no_edge_there_is_no_offset():
    flat = np.full((110, 120), 100, np.uint8)
    found = edge_offsets(flat, ring(), 5.0, linear_light(2.2))
    assert np.isnan(found.offset_px).all()
    assert np.isinf(found.u_px).all()
    assert (found.step == 0).all()


def test_an_outline_beyond_the_picture_has_no_edges():
    found = edge_offsets(disc(0.7, 0.1), ring() + np.array([50.0, 0.0]), 5.0, linear_light(2.2))
    assert np.isnan(found.offset_px).all()


def test_less_contrast_is_less_certain():
    strong = edge_offsets(disc(0.8, 0.1), ring(), 5.0, linear_light(2.2))
    weak = edge_offsets(disc(0.2, 0.1), ring(), 5.0, linear_light(2.2))
    assert np.median(weak.u_px) > 4 * np.median(strong.u_px)


def test_uncertainty_is_that_of_the_noise():
    # edges of a noisy disc scatter about as much as is claimed for that noise in light
    noise_luma = 3.0
    found = edge_offsets(
        disc(0.5, 0.1, noise=noise_luma),
        ring(n=200),
        5.0,
        linear_light(2.2),
        noise=noise_luma / 219 * 2.2 * 0.4,
    )  # d light = gamma light^(1 - 1/gamma) d luma; at light 0.3 that factor is 2.2 x 0.5
    good = np.isfinite(found.offset_px)
    assert good.mean() > 0.9
    ratio = np.nanstd(found.offset_px) / np.median(found.u_px[good])
    assert 0.3 < ratio < 2.0


@pytest.mark.parametrize("turns", [1, -1])
def test_normals_point_outwards_whichever_way_the_outline_runs(turns):
    outline = ring()[::turns]
    normal = outward_normals(outline)
    np.testing.assert_allclose(np.hypot(*normal.T), 1, atol=1e-9)
    np.testing.assert_allclose(normal, (outline - CENTRE) / RADIUS, atol=1e-2)
