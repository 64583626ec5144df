"""Lenses measured from views whose lens is known: OpenCV's projection, rendered boards, a real chessboard."""

from functools import cache

import cv2
import numpy as np
import pytest
from little_green import View
from little_sheet import lay

from puttvision.errors import GreenError
from puttvision.green.lens import LensView, measure_lens, remarks
from puttvision.green.lens_board import SQUARE_M, board, board_cells
from puttvision.green.lens_views import (
    BoardSighting,
    board_views,
    choose_views,
    find_board,
    measure_readout,
    sheet_views,
)

SIZE = (1920, 1080)
USUAL = (1420.0, (4.0, -3.0), (0.03, -0.05, 0.0, 0.0, 0.0))
BARREL = (980.0, (6.0, 2.0), (-0.18, 0.03, 0.0008, -0.0006, 0.0))
WIDE = (700.0, (4.0, -3.0), (0.12, 0.25, 0.0006, -0.0004, 0.04, 0.42, 0.33, 0.10))
"""13 mm equivalent (13/36 of the long side), bent by 12 % at the picture's edge."""


def matrix_of(lens):
    f, off, bend = lens
    matrix = np.array([[f, 0, (SIZE[0] - 1) / 2 + off[0]], [0, f, (SIZE[1] - 1) / 2 + off[1]], [0, 0, 1.0]])
    return matrix, np.array(bend)


@cache
def field_of(lens):
    """Straight radii and the bent ones they give, from the middle to the picture's corner: a table of the
    model's own formula, so that nothing here rests on undoing it."""
    f, _, bend = lens
    k1, k2, _, _, k3, k4, k5, k6 = [*bend, 0, 0, 0][:8]
    r = np.linspace(0, 2.6, 4000)
    r2 = r * r
    bent = r * (1 + k1 * r2 + k2 * r2**2 + k3 * r2**3) / (1 + k4 * r2 + k5 * r2**2 + k6 * r2**3)
    folds = np.nonzero(np.diff(bent) <= 0)[0]
    end = int(folds[0]) if len(folds) else len(r)
    end = min(end, int(np.searchsorted(bent[:end], 1.02 * np.hypot(*SIZE) / 2 / f)))
    return r[:end], bent[:end]


def straight(lens, px):
    """Rays of pixels, tangential terms left out: to aim with."""
    r, bent = field_of(lens)
    away = (np.asarray(px, float) - matrix_of(lens)[0][:2, 2]) / lens[0]
    radius = np.hypot(*np.moveaxis(away, -1, 0))
    return away * (np.interp(radius, bent, r) / np.maximum(radius, 1e-9))[..., None]


def poses(lens, n, seed=0):
    """Board poses whose points fill the picture: turned, tilted, near and far."""
    rng = np.random.default_rng(seed)
    matrix, bend = matrix_of(lens)
    corners = np.asarray(board().getChessboardCorners(), float)
    middle = corners.mean(axis=0)
    widest = field_of(lens)[0][-1]
    out = []
    while len(out) < n:
        turn = (
            cv2.Rodrigues(rng.normal(0, 0.35, 3))[0] @ cv2.Rodrigues(np.array([0, 0, rng.uniform(-2, 2)]))[0]
        )
        ray = straight(lens, rng.uniform(0.03, 0.97, 2) * SIZE)
        move = np.array([*ray, 1.0]) * rng.uniform(0.25, 0.7) - turn @ middle
        there = corners @ turn.T + move
        px = cv2.projectPoints(corners, turn, move, matrix, bend)[0][:, 0]
        seen = (there[:, 2] > 0.05) & (np.hypot(*there[:, :2].T) / there[:, 2] < widest)
        inside = seen & ((px > 2) & (px < np.array(SIZE) - 3)).all(axis=1)
        if inside.sum() >= 10:
            out.append((corners[inside], px[inside], turn, move))
    return out


def views(lens, n=20, noise_px=0.1, seed=0):
    rng = np.random.default_rng(seed + 100)
    return [
        LensView(points, px + rng.normal(0, noise_px, px.shape)) for points, px, _, _ in poses(lens, n, seed)
    ]


@pytest.mark.parametrize("lens", [USUAL, BARREL, WIDE], ids=["main camera", "barrel", "13 mm wide"])
def test_a_known_lens_comes_back(lens):
    # truth: the matrix and coefficients that cv2.projectPoints projected with
    found = measure_lens(views(lens), *SIZE)
    assert found.f_share * 1920 == pytest.approx(lens[0], rel=0.004)
    assert found.rms_px == pytest.approx(0.1 * np.sqrt(2), rel=0.15)  # x and y of a corner together
    assert found.sees_share > 0.8
    assert remarks(found) == []
    # what counts is where a pixel's ray goes, all over the picture
    grid = np.stack(np.meshgrid(np.linspace(200, 1720, 9), np.linspace(100, 980, 7)), axis=-1).reshape(-1, 2)
    camera = found.camera()
    ours = camera.rays(grid) @ camera.rotation().T
    ours /= np.linalg.norm(ours, axis=1)[:, None]
    true = np.column_stack([straight(lens, grid), np.ones(len(grid))])
    true /= np.linalg.norm(true, axis=1)[:, None]
    u, _, v = np.linalg.svd(true.T @ ours)  # a turn of the whole camera is the pose's business (Kabsch)
    apart_px = np.arccos(np.clip(np.sum((ours @ (u @ v).T) * true, axis=1), -1, 1)) * lens[0]
    # 0.1 px of noise leaves the focal length uncertain by 0.1 to 0.3 %; the true rays here lack the
    # tangential terms, 1 px at most
    assert np.median(apart_px) < 2.0
    assert np.percentile(apart_px, 95) < 4.0


def test_the_plain_model_is_kept_where_it_does():
    assert measure_lens(views(USUAL), *SIZE).model == "radial"
    assert measure_lens(views(WIDE), *SIZE).model != "radial"


def test_a_blurred_view_is_left_out():
    some = views(USUAL)
    rng = np.random.default_rng(1)
    some[3] = LensView(some[3].points_m, some[3].points_px + rng.normal(0, 6, some[3].points_px.shape))
    found = measure_lens(some, *SIZE)
    assert found.n_views == len(some) - 1
    assert found.rms_px < 0.2


def test_too_few_views_and_views_of_no_lens():
    with pytest.raises(GreenError, match=r"5 usable views .* too few"):
        measure_lens(views(USUAL, n=5), *SIZE)
    rng = np.random.default_rng(2)
    nonsense = [LensView(v.points_m, rng.uniform(0, 1000, v.points_px.shape)) for v in views(USUAL, n=10)]
    with pytest.raises(GreenError, match="do not go together") as caught:
        measure_lens(nonsense, *SIZE)
    assert "\n" not in str(caught.value)


def test_a_board_only_in_the_middle_is_remarked():
    middle = [
        LensView(v.points_m, v.points_px)
        for v in views(USUAL, n=120)
        if np.abs(v.points_px - (960, 540)).max() < 420
    ]
    found = measure_lens(middle[:20], *SIZE)
    assert any("every corner" in text for text in remarks(found))


def test_what_a_pose_takes_for_known():
    prior = measure_lens(views(WIDE), *SIZE).prior()
    lens = prior.lens(*SIZE)
    assert lens["f_px"] == pytest.approx(700, rel=0.004)
    assert (lens["cx_px"], lens["cy_px"]) == pytest.approx((963.5, 536.5), abs=2.0)
    assert 0.003 < prior.u_ln_f < 0.01


@cache
def all_rays(lens):
    """A ray for each pixel, by Newton's method on OpenCV's own projection."""
    matrix, bend = matrix_of(lens)
    v, u = np.mgrid[0 : SIZE[1] : 8, 0 : SIZE[0] : 8].astype(float)
    goal = np.stack([u, v], -1).reshape(-1, 2)
    flat = straight(lens, goal)
    for _ in range(5):
        here = cv2.projectPoints(
            np.column_stack([flat, np.ones(len(flat))]), np.zeros(3), np.zeros(3), matrix, bend
        )[0][:, 0]
        flat = straight(lens, goal + (matrix[:2, 2] + bent_flat(lens, flat) * lens[0] - here))
    coarse = flat.reshape(*u.shape, 2).astype(np.float32)
    grid = np.mgrid[0 : SIZE[1], 0 : SIZE[0]].astype(np.float32) / 8
    return cv2.remap(coarse, grid[1], grid[0], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)


def bent_flat(lens, flat):
    r, bent = field_of(lens)
    radius = np.hypot(*flat.T)
    return flat * (np.interp(radius, r, bent) / np.maximum(radius, 1e-9))[:, None]


def drawn(lens, turn, move):
    """The board as such a camera takes it: each pixel's ray to the board's plane."""
    scale = 12
    cells = np.kron(np.where(board_cells(), 25, 225), np.ones((scale, scale))).astype(np.uint8)
    sheet = cv2.copyMakeBorder(cells, 120, 120, 120, 120, cv2.BORDER_CONSTANT, value=225)
    flat = all_rays(lens)
    rays = np.concatenate([flat, np.ones_like(flat[..., :1])], axis=-1)
    normal = turn[:, 2]
    on = (rays * ((normal @ move) / (rays @ normal))[..., None] - move) @ turn
    at = (on[..., :2] / (SQUARE_M / 9) * scale + 119.5).astype(np.float32)
    picture = cv2.remap(
        cv2.GaussianBlur(sheet, (0, 0), 2.5), at[..., 0], at[..., 1], cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT, borderValue=110,
    )  # fmt: skip
    return cv2.GaussianBlur(picture, (0, 0), 0.7)


@pytest.mark.slow
@pytest.mark.parametrize("lens", [USUAL, WIDE], ids=["main camera", "13 mm wide"])
def test_the_board_in_pictures_gives_the_lens(lens):
    sightings = [
        find_board(drawn(lens, turn, move), 0.5 * k) for k, (_, _, turn, move) in enumerate(poses(lens, 18))
    ]
    seen = [s for s in sightings if s is not None]
    assert len(seen) > 10
    found = measure_lens(choose_views(board_views(seen)), *SIZE)
    assert found.f_share * 1920 == pytest.approx(lens[0], rel=0.01)
    assert found.rms_px < 0.5


def test_a_picture_without_the_board():
    assert find_board(np.full((1080, 1920), 120, np.uint8), 0.0) is None


def test_views_are_chosen_to_differ():
    many = views(USUAL, n=40)
    standing = [many[0]] * 100
    chosen = choose_views([*standing, *many])
    assert len(chosen) == 30
    assert sum(view is many[0] for view in chosen) <= 1


def moving(lens, readout_s, *, seed=3, noise_px=0.08, n=60):
    """A board swung before a sensor that reads row after row: each corner at its own row's instant."""
    matrix, bend = matrix_of(lens)
    corners = np.asarray(board().getChessboardCorners(), float)
    rng = np.random.default_rng(seed)
    out = []
    for k in range(n):
        t = k / 60

        def pose(s):
            turn = cv2.Rodrigues(np.array([0.3 * np.sin(2 * s), 0.4 * np.cos(1.7 * s), 0.3 * s]))[0]
            move = np.array([0.18 * np.sin(6.0 * s), 0.06 * np.cos(5.0 * s), 0.55]) - turn @ corners.mean(
                axis=0
            )
            return turn, move

        px = np.zeros((len(corners), 2))
        for i, corner in enumerate(corners):
            instant = t
            for _ in range(4):
                turn, move = pose(instant)
                px[i] = cv2.projectPoints(corner[None], turn, move, matrix, bend)[0][0, 0]
                instant = t + readout_s * px[i, 1] / SIZE[1]
        out.append(BoardSighting(t, np.arange(len(corners)), px + rng.normal(0, noise_px, px.shape)))
    return out


@pytest.mark.parametrize("readout_s", [0.006, 0.012])
def test_a_swung_board_tells_the_read_out_time(readout_s):
    lens = measure_lens(views(USUAL), *SIZE)
    told = measure_readout(moving(USUAL, readout_s), lens, 1 / 60)
    assert told is not None
    assert told.seconds == pytest.approx(readout_s, abs=0.0006)
    assert abs(told.seconds - readout_s) < 4 * told.u_seconds


def test_a_board_at_rest_tells_no_read_out_time():
    lens = measure_lens(views(USUAL), *SIZE)
    still = moving(USUAL, 0.008, n=1)[0]
    frames = [BoardSighting(k / 60, still.ids, still.points_px) for k in range(60)]
    assert measure_readout(frames, lens, 1 / 60) is None


@pytest.mark.slow
def test_a_sheet_moved_about_is_seen_again_and_again():
    # one printed sheet drawn by OpenCV in four places, the third time where it was
    view = View(width=1280, height=720, f_px=940, height_m=1.25, tilt_deg=35)
    frames = []
    for k, place in enumerate([(-0.4, 1.6, 0.3), (0.3, 1.8, 1.0), (0.3, 1.8, 1.0), (0.0, 2.2, 2.0)]):
        luma = np.full((720, 1280), 90, np.uint8)
        lay(view, luma, 2, *place)
        frames.append((luma, 1.5 * k))
    found = sheet_views(frames)
    assert len(found) == 3
    assert all(v.points_px.shape == (4, 2) for v in found)


@pytest.mark.slow
def test_a_real_camera_agrees_with_its_published_lens(shared):
    # 13 photographs of a chessboard and the intrinsics that OpenCV ships with them (samples/data/left*.jpg,
    # left_intrinsics.yml)
    folder = shared / "real" / "lens"
    storage = cv2.FileStorage(str(folder / "left_intrinsics.yml"), cv2.FILE_STORAGE_READ)
    true = storage.getNode("camera_matrix").mat()
    points = np.zeros((54, 3))
    points[:, :2] = np.mgrid[0:9, 0:6].T.reshape(-1, 2) * 0.025
    some = []
    for path in sorted(folder.glob("left*.jpg")):
        grey = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        found, corners = cv2.findChessboardCorners(grey, (9, 6))
        if found:
            rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01)
            corners = cv2.cornerSubPix(grey, corners, (5, 5), (-1, -1), rule)
            some.append(LensView(points, corners.reshape(-1, 2).astype(float)))
    lens = measure_lens(some, 640, 480)
    assert lens.f_share * 640 == pytest.approx(true[0, 0], rel=0.01)
    assert lens.rms_px < 0.5
    assert lens.coefficients[0] == pytest.approx(-0.28, abs=0.05) or lens.model == "rational"
