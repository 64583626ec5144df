"""The still picture against numpy's sorting."""

import numpy as np
import pytest

from puttvision.green.still import median_plane, still_picture


@pytest.mark.parametrize("n", [1, 2, 3, 4, 7, 12, 24])
def test_median_is_the_middle_of_the_sorted(n):
    # numpy.sort; of an even number the lower of the two in the middle
    planes = list(np.random.default_rng(n).integers(0, 256, (n, 13, 17)).astype(np.uint8))
    expected = np.sort(planes, axis=0)[(n - 1) // 2]
    np.testing.assert_array_equal(median_plane(planes), expected)


def test_it_leaves_its_input_alone():
    planes = [np.full((2, 2), v, np.uint8) for v in (9, 1, 5)]
    median_plane(planes)
    assert [int(p[0, 0]) for p in planes] == [9, 1, 5]


def test_what_moves_is_gone_and_noise_is_less():
    rng = np.random.default_rng(1)
    scene = rng.integers(60, 120, (90, 160)).astype(float)
    frames = []
    for k in range(15):
        luma = scene + rng.normal(0, 4, scene.shape)
        luma[:, 10 * k : 10 * k + 30] = 250  # a player walks through
        frames.append(
            tuple(np.clip(p, 0, 255).astype(np.uint8) for p in (luma, luma[::2, ::2], luma[::2, ::2]))
        )
    still = still_picture(iter(frames))
    assert still is not None
    assert still.n_frames == 15
    assert still.luma.shape == (90, 160)
    assert still.cb.shape == still.cr.shape == (45, 80)
    # a median of 12 has 1.25 times the error of a mean (normal noise, Kenney and Keeping 1962; from memory)
    assert np.std(still.luma - scene) < 4 * 1.25 / np.sqrt(12) * 1.4


def test_no_frames_no_picture():
    assert still_picture([]) is None
