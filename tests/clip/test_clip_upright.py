"""The display matrix and what it does to a picture, against the mapping as the file format defines it."""

import struct

import numpy as np
import pytest

from puttvision.clip import open_clip
from puttvision.clip.upright import Upright, from_display
from puttvision.errors import ClipError

# QuickTime File Format (Apple), "Matrices": x' = a x + c y + tx, y' = b x + d y + ty; x right, y down.
# Name: (a, b, c, d). "90" is what phones write for a clip filmed in portrait (turn clockwise to view).
MATRICES = {
    "0": (1, 0, 0, 1),
    "90": (0, 1, -1, 0),
    "180": (-1, 0, 0, -1),
    "270": (0, -1, 1, 0),
    "mirror left-right": (-1, 0, 0, 1),
    "mirror top-bottom": (1, 0, 0, -1),
    "transpose": (0, 1, 1, 0),
    "other transpose": (0, -1, -1, 0),
}


def shown(picture: np.ndarray, matrix: tuple[int, int, int, int]) -> np.ndarray:
    """The picture as the matrix puts it, pixel by pixel, moved so that it starts at (0, 0)."""
    a, b, c, d = matrix
    rows, columns = np.indices(picture.shape)
    x, y = a * columns + c * rows, b * columns + d * rows
    out = np.zeros((np.ptp(y) + 1, np.ptp(x) + 1), picture.dtype)
    out[y - y.min(), x - x.min()] = picture
    return out


def set_display_matrix(path, matrix):
    """Write the matrix into the track header: 40 bytes into tkhd version 0 (ISO 14496-12, from memory)."""
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4 + 40
    a, b, c, d = (int(v) << 16 for v in matrix)
    struct.pack_into(">9i", data, at, a, b, 0, c, d, 0, 0, 0, 1 << 30)
    path.write_bytes(data)


@pytest.mark.parametrize("name", MATRICES)
def test_a_clip_with_this_matrix_is_brought_upright(film, name):
    filmed = film(n=2)
    set_display_matrix(filmed.path, MATRICES[name])
    with open_clip(filmed.path) as clip:
        for frame, planes in zip(clip.frames(), filmed.planes, strict=True):
            for got, drawn in zip((frame.luma, *frame.chroma()), planes, strict=True):
                np.testing.assert_array_equal(got, shown(drawn, MATRICES[name]))
                assert got.flags.c_contiguous or name == "0"
    facts = clip.facts
    assert (facts.height, facts.width) == shown(filmed.planes[0][0], MATRICES[name]).shape
    assert (facts.stored_width, facts.stored_height) == (96, 64)
    if name in {"0", "90", "180", "270"}:
        assert (facts.rotation_deg, facts.mirrored, facts.warnings) == (int(name), False, ())
    else:
        assert facts.mirrored
        assert "mirrored" in facts.warnings[0]


def test_the_turn_is_clockwise():
    # Plain words rather than formulas: what was at the top left is at the top right after a turn by 90.
    picture = np.zeros((4, 6), np.uint8)
    picture[0, 0] = 9
    turned = Upright(turn_deg=90).apply(picture)
    assert turned.shape == (6, 4)
    assert turned[0, -1] == 9


def test_mirroring_comes_before_the_turn():
    picture = np.arange(6, dtype=np.uint8).reshape(2, 3)
    both = Upright(turn_deg=90, mirrored=True).apply(picture)
    np.testing.assert_array_equal(both, np.rot90(np.fliplr(picture), -1))  # numpy turns counter-clockwise


@pytest.mark.parametrize("degrees", [45, 10, 88])
def test_a_slanted_picture_is_refused(degrees):
    cos, sin = (round(65536 * f(np.radians(degrees))) for f in (np.cos, np.sin))
    with pytest.raises(ClipError, match="quarter turns"):
        from_display((cos, sin, 0, -sin, cos, 0, 0, 0, 1 << 30), 1.0, "clip.mp4")


def test_a_slanted_clip_is_refused_by_name(film):
    path = film(n=2).path
    set_display_matrix(path, (1, 0, 0, 1))
    data = bytearray(path.read_bytes())
    struct.pack_into(">9i", data, data.index(b"tkhd") + 44, 46341, 46341, 0, -46341, 46341, 0, 0, 0, 1 << 30)
    path.write_bytes(data)
    with pytest.raises(ClipError, match=r"clip\.mp4.*45 degrees"):
        open_clip(path)


def test_pixels_are_squared_before_the_turn():
    upright = from_display((0, 65536, 0, -65536, 0, 0, 0, 0, 1 << 30), 1.5, "clip.mp4")
    assert upright.size(100, 80) == (80, 150)
    assert upright.apply(np.zeros((80, 100), np.uint8)).shape == (150, 80)


def test_narrow_pixels_stretch_the_height_so_that_nothing_is_lost():
    upright = from_display(None, 0.5, "clip.mp4")
    assert upright.size(100, 80) == (100, 160)


def test_pixels_that_are_square_but_for_rounding_are_left_alone():
    assert from_display(None, 1280 / 1281, "clip.mp4").changes_nothing
