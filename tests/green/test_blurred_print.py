"""Slopes of a blurred print and of its tone against differences of the values themselves."""

import numpy as np
import pytest

from puttvision.green.blurred_print import (
    Footprints,
    crossings,
    footprints,
    n_places_for,
    white_slopes,
    whites,
)
from puttvision.green.print_tone import Tone

SEEN_FLAT = np.array([[0.09, 0.12, -15.0], [0.03, -0.3, 12.0], [0.0004, -0.0007, 1.0]])
"""From pixels to cells: a sheet turned by some 20 degrees, seen flat."""
XY = np.random.default_rng(5).uniform(-1, 1, (2, 400)) * [[60.0], [20.0]] + [[110.0], [50.0]]


@pytest.mark.parametrize("n_places", [1, 3, 5])
@pytest.mark.parametrize("name", ["cells", "along", "rest"])
@pytest.mark.parametrize("axis", [0, 1])
def test_slopes_of_white(n_places, name, axis):
    print_, seen = crossings(4), footprints(XY, SEEN_FLAT, 0.8)
    share, slopes = white_slopes(print_, seen, n_places)
    assert share == pytest.approx(whites(print_, seen, n_places))
    step = Footprints(*(np.zeros((2, XY.shape[1])) for _ in range(3)))
    getattr(step, name)[axis] = 1e-5
    behind, ahead = (
        Footprints(seen.cells + k * step.cells, seen.along + k * step.along, seen.rest + k * step.rest)
        for k in (-1, 1)
    )
    change = (whites(print_, ahead, n_places) - whites(print_, behind, n_places)) / 2
    assert slopes.change(step) == pytest.approx(change, abs=1e-10)
    if n_places > 1 or name != "along":
        assert np.abs(change).max() > 1e-7


def test_far_from_every_edge_nothing_is_mixed():
    print_ = crossings(0)
    middle = Footprints(np.array([[-2.5, 3.5], [2.5, 0.0]]), np.zeros((2, 2)), np.full((2, 2), 0.01))
    assert whites(print_, middle, 1) == pytest.approx([0.0, 1.0])  # the black ring, the white paper


def test_a_slanted_blur_takes_more_places():
    upright = np.array([[0.05, 0.0, -5.0], [0.0, -0.05, 5.0], [0.0, 0.0, 1.0]])
    assert n_places_for(footprints(XY, upright, 1.0)) == 1
    assert n_places_for(footprints(XY, SEEN_FLAT, 1.0)) > 1


@pytest.mark.parametrize(
    ("name", "row"), [("log_gamma", 0), ("black", 1), ("white", 2)], ids=["gamma", "black", "white"]
)
def test_slopes_of_tone(name, row):
    cells, told = XY / 40, np.array([0.7, 0.12, 0.8, 0.05, -0.03])
    share = np.linspace(0.0, 1.0, XY.shape[1])
    step = np.zeros(5)
    step[row] = 1e-5
    before, after = (Tone.at(cells, told + side * step).luma(share) for side in (-1, 1))
    assert getattr(Tone.at(cells, told).slopes(share), name) == pytest.approx(
        (after - before) / 2e-5, abs=1e-6
    )


def test_slope_of_luma_over_the_share():
    tone = Tone.at(XY / 40, np.array([0.7, 0.12, 0.8, 0.05, -0.03]))
    share = np.linspace(0.05, 0.95, XY.shape[1])
    told = (tone.luma(share + 1e-5) - tone.luma(share - 1e-5)) / 2e-5
    assert tone.slopes(share).share == pytest.approx(told, abs=1e-6)


def test_at_its_bound_black_changes_nothing():
    tone = Tone.at(XY / 40, np.array([0.7, -0.1, 0.8, 0.0, 0.0]))
    assert not tone.slopes(np.full(XY.shape[1], 0.5)).black.any()
