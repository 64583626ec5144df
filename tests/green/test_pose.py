"""Lens and pose from sheets whose corners OpenCV projected: found again, and as surely as claimed.

The truth is projected by ``cv2.projectPoints`` (Brown 1966) from sheets placed by hand in the frame of
the green; noise is drawn with the covariance that the corners claim.
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy.stats import chi2

from puttvision.errors import GreenError
from puttvision.green.corners import SheetCorners
from puttvision.green.pose import LensPrior, solve_pose

SIDE_M = 0.180  # the printed sheet: 180.0 mm
NOISE_PX = 0.06
FLAT = {0: (-0.9, 2.4, 0.4), 3: (0.8, 3.6, -1.1)}
"""By id: x, y on the green and turn about the sheet's own centre."""


class Truth:
    """A camera of the test's own, by OpenCV alone: height, tilt and roll as turns about the axes."""

    def __init__(self, f_px=1400.0, tilt_deg=27.0, roll_deg=1.5, height_m=1.42, bend=(0.0, 0.0),
                 off=(0.0, 0.0), size=(1920, 1080)):  # fmt: skip
        tilt, roll = np.radians(tilt_deg), np.radians(roll_deg)
        level = np.array([[1, 0, 0], [0, 0, -1], [0, 1, 0.0]])  # looking along y
        self.turn = (
            cv2.Rodrigues(np.array([0, 0, -roll]))[0] @ cv2.Rodrigues(np.array([tilt, 0, 0]))[0] @ level
        )
        self.move = -self.turn @ [0, 0, height_m]
        self.size = size
        cx, cy = (size[0] - 1) / 2 + off[0], (size[1] - 1) / 2 + off[1]
        self.matrix = np.array([[f_px, 0, cx], [0, f_px, cy], [0, 0, 1.0]])
        self.bend = np.array([*bend, 0, 0])
        self.values = np.array([np.log(f_px), cx, cy, *bend, np.log(height_m), tilt, roll])

    def project(self, points_m):
        points = np.asarray(points_m, float)
        return cv2.projectPoints(points, cv2.Rodrigues(self.turn)[0], self.move, self.matrix, self.bend)[0][
            :, 0
        ]

    def sheets(self, places, rng=None, noise_px=NOISE_PX, tipped=None):
        """The sheets as seen; ``tipped``: by id, radians by which one stands up about its bottom edge."""
        found = []
        for sheet_id, place in places.items():
            px = self.project(corners_m(*place, tipped=(tipped or {}).get(sheet_id, 0.0)))
            if rng is not None:
                px = px + rng.normal(0, noise_px, (4, 2))
            found.append(
                SheetCorners(
                    id=sheet_id, corners_px=px, cov_px2=np.eye(8) * noise_px**2,
                    residual=0.0, blur_px=0.7, gamma=2.2,
                )
            )  # fmt: skip
        return found


def corners_m(x, y, turn, tipped=0.0):
    """Corners in the frame of the green: top left, top right, bottom right, bottom left as printed."""
    half = SIDE_M / 2
    flat = np.array([[-half, half], [half, half], [half, -half], [-half, -half]])
    height = (flat[:, 1] + half) * np.sin(tipped)
    stood = np.column_stack([flat[:, 0], (flat[:, 1] + half) * np.cos(tipped) - half, height])
    c, s = np.cos(turn), np.sin(turn)
    return stood @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1.0]]) + (x, y, 0)


def vector(camera):
    c = camera
    return np.array(
        [np.log(c.f_px), c.cx_px, c.cy_px, c.k1, c.k2, np.log(c.height_m), c.tilt_rad, c.roll_rad]
    )


def apart_m(camera, pixels):
    """Metres on the plane between two pixels: what a putt's length is made of."""
    a, b = camera.to_plane(pixels)
    return float(np.hypot(*(b - a)))


def turn_between(a, b):
    return (a - b + np.pi) % (2 * np.pi) - np.pi


def test_the_tests_own_camera_looks_where_it_should():
    # 1.42 m up, 27 degrees down: what lies 3 m ahead is 25.3 degrees down, so 1.7 degrees above the axis
    ahead, right = Truth(roll_deg=0.0).project([[0.0, 3.0, 0.0], [0.5, 3.0, 0.0]])
    above_px = 1400 * np.tan(np.radians(27) - np.arctan2(1.42, 3))
    assert ahead == pytest.approx([959.5, 539.5 - above_px], abs=1e-6)
    assert right[0] > ahead[0] + 100


def test_two_sheets_without_noise_give_camera_and_places_back():
    # the prior's middle is the true lens, so nothing pulls away: exact to rounding
    truth = Truth(f_px=1400)
    pose = solve_pose(truth.sheets(FLAT), 1920, 1080, LensPrior(f_over_long_side=1400 / 1920))
    tolerance = [1e-6, 1e-3, 1e-3, 1e-6, 1e-6, 1e-6, 1e-6, 1e-6]
    assert (np.abs(vector(pose.camera) - truth.values) < tolerance).all()
    assert pose.rms_px < 1e-4
    for sheet_id, (x, y, turn) in FLAT.items():
        assert pose.sheets[sheet_id][:2] == pytest.approx((x, y), abs=1e-5)
        assert turn_between(pose.sheets[sheet_id][2], turn) == pytest.approx(0, abs=1e-5)


@pytest.mark.parametrize("f_px", [1250.0, 1560.0])
def test_a_lens_that_is_not_the_usual_one_is_found(f_px):
    # 0.65 and 0.81 of the long side instead of 0.73: the sheets tell, and lengths come out right
    truth = Truth(f_px=f_px)
    camera = solve_pose(truth.sheets(FLAT), 1920, 1080).camera
    assert abs(np.log(camera.f_px / f_px)) < 0.006
    pixels = truth.project([[-0.9, 2.4, 0], [0.8, 3.6, 0]])
    assert apart_m(camera, pixels) == pytest.approx(np.hypot(1.7, 1.2), rel=0.003)


def test_any_number_of_sheets_turned_any_way():
    truth = Truth(tilt_deg=33, roll_deg=-4, height_m=1.8)
    places = {9: (-0.6, 1.9, 3.0), 1: (0.5, 2.2, 1.6), 4: (-0.2, 3.3, -2.4), 7: (0.9, 3.1, 0.0)}
    pose = solve_pose(truth.sheets(places), 1920, 1080)
    for sheet_id, place in places.items():
        assert pose.sheets[sheet_id][:2] == pytest.approx(place[:2], abs=0.01)
        assert turn_between(pose.sheets[sheet_id][2], place[2]) == pytest.approx(0, abs=0.01)


def test_a_picture_taken_upright():
    truth = Truth(f_px=1380, size=(1080, 1920), tilt_deg=30)
    pose = solve_pose(truth.sheets({0: (-0.3, 2.0, 0.4), 3: (0.4, 3.2, -1.1)}), 1080, 1920)
    assert abs(np.log(pose.camera.f_px / 1380)) < 0.01
    assert pose.camera.height_m == pytest.approx(1.42, rel=0.01)


def trial(rng, places):
    """A lens drawn from the prior's own distributions, seen with noise: estimate, truth, two far pixels."""
    prior = LensPrior()
    truth = Truth(
        f_px=1920 * prior.f_over_long_side * np.exp(rng.normal(0, prior.u_ln_f)),
        tilt_deg=rng.uniform(22, 35),
        roll_deg=rng.normal(0, 2),
        height_m=rng.uniform(1.1, 1.6),
        bend=(rng.normal(prior.k1, prior.u_k1), rng.normal(prior.k2, prior.u_k2)),
        off=rng.normal(0, prior.u_centre_share * 1920, 2),
    )
    return solve_pose(truth.sheets(places, rng), 1920, 1080, prior), truth


def test_the_covariance_is_honest():
    # Lens from the prior, corners with their own noise: the squared error in units of the covariance
    # (NEES, Bar-Shalom et al. 2001, 5.4.2) follows chi-squared with 8 degrees of freedom, and 95 % of the
    # distances lie within 1.96 standard deviations. Over 60 trials chance alone passes the upper bound of the
    # sum once in 2000 times.
    rng = np.random.default_rng(20)
    nees, pulls = [], []
    for _ in range(60):
        pose, truth = trial(rng, FLAT)
        miss = vector(pose.camera) - truth.values
        nees.append(miss @ np.linalg.solve(pose.cov, miss))
        pixels = truth.project([[-0.8, 2.5, 0], [1.4, 3.4, 0]])
        varied = np.array([apart_m(camera, pixels) for camera in pose.varied()])
        u_m = float(np.sqrt(np.sum((varied - apart_m(pose.camera, pixels)) ** 2)))
        pulls.append((apart_m(pose.camera, pixels) - np.hypot(2.2, 0.9)) / u_m)
    assert sum(nees) < chi2.ppf(0.9995, 8 * 60)
    assert sum(nees) > 0.4 * 8 * 60  # not so wide that it says nothing
    assert 0.85 <= np.mean(np.abs(pulls) < 1.96) <= 1.0
    assert 0.5 < np.std(pulls) < 1.4


def test_one_sheet_works_and_says_that_it_is_less_sure():
    rng = np.random.default_rng(21)
    pulls = []
    for _ in range(25):
        pose, truth = trial(rng, {0: (0.1, 2.4, 0.4)})
        pixels = truth.project([[-0.8, 2.5, 0], [1.4, 3.4, 0]])
        varied = np.array([apart_m(camera, pixels) for camera in pose.varied()])
        pulls.append(
            (apart_m(pose.camera, pixels) - np.hypot(2.2, 0.9))
            / np.sqrt(np.sum((varied - apart_m(pose.camera, pixels)) ** 2))
        )
    assert np.mean(np.abs(pulls) < 1.96) >= 0.85
    truth = Truth()
    one = solve_pose(truth.sheets({0: FLAT[0]}), 1920, 1080)
    two = solve_pose(truth.sheets(FLAT), 1920, 1080)
    assert np.sqrt(one.cov[0, 0]) > 3 * np.sqrt(two.cov[0, 0])


def test_corners_that_are_less_sure_make_the_camera_less_sure():
    truth = Truth()
    fine = solve_pose(truth.sheets(FLAT, noise_px=0.05), 1920, 1080)
    coarse = solve_pose(truth.sheets(FLAT, noise_px=0.5), 1920, 1080)
    for i in (0, 5):  # focal length and height: ten times the noise, held back by the priors
        assert np.sqrt(coarse.cov[i, i]) > 3 * np.sqrt(fine.cov[i, i])


def test_a_sheet_that_stands_up_is_refused():
    with pytest.raises(GreenError, match="flat") as caught:
        solve_pose(Truth().sheets(FLAT, tipped={0: np.radians(60)}), 1920, 1080)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("sheet_id", "lean_deg"), [(3, 10), (3, 15), (3, 35), (0, 10), (0, 20), (0, 45)])
def test_a_sheet_that_leans_far_is_refused(sheet_id, lean_deg):
    # a free lens would fit these (35 degrees: f 278 px, 45: 2.9 px of misfit): no lens of a phone does
    with pytest.raises(GreenError, match="lay them flat") as caught:
        solve_pose(Truth().sheets(FLAT, tipped={sheet_id: np.radians(lean_deg)}), 1920, 1080)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("sheet_id", "lean_deg"), [(3, 1), (3, 2), (0, 2), (0, 5)])
def test_a_sheet_that_leans_a_little_makes_lengths_less_sure(sheet_id, lean_deg):
    # grass under one edge, a curled page: the error stays within its own 95 % interval
    truth = Truth()
    pixels = truth.project([[-0.8, 2.5, 0], [1.4, 3.4, 0]])

    def length(pose):
        varied = np.array([apart_m(camera, pixels) for camera in pose.varied()])
        best = apart_m(pose.camera, pixels)
        return best, float(np.sqrt(np.sum((varied - best) ** 2)))

    flat = solve_pose(truth.sheets(FLAT), 1920, 1080)
    leaning = solve_pose(truth.sheets(FLAT, tipped={sheet_id: np.radians(lean_deg)}), 1920, 1080)
    assert flat.lean_rad == 0
    assert np.radians(0.3) < leaning.lean_rad < np.radians(2 * lean_deg)
    best, u = length(leaning)
    assert abs(best - np.hypot(2.2, 0.9)) < 1.96 * u
    assert u > 3 * length(flat)[1]


@pytest.mark.parametrize("share", [0.94, 0.97])
def test_a_sheet_printed_to_fit_the_page_is_named(share):
    # a printer's "fit to page" shrinks by the margins: 3 to 6 % (common practice, no source)
    truth = Truth()
    sheets = truth.sheets(FLAT, np.random.default_rng(5))
    middle = np.array([*FLAT[3][:2], 0.0])
    small_px = truth.project((corners_m(*FLAT[3]) - middle) * share + middle)
    sheets[1] = replace(sheets[1], corners_px=small_px)
    with pytest.raises(GreenError, match=r"sheet 3 seems to be printed at 9[3-8] % .*100\.0 mm"):
        solve_pose(sheets, 1920, 1080)


def test_one_covered_corner_is_told_by_the_uncertainty():
    # a leaf pulls one corner by 1 px (17 sigma): the error stays within the 95 % interval
    truth = Truth()
    sheets = truth.sheets({**FLAT, 5: (-0.1, 3.0, 1.0)}, np.random.default_rng(6))
    sheets[0].corners_px[2] += (0.7, -0.7)
    pose = solve_pose(sheets, 1920, 1080)
    pixels = truth.project([[-0.8, 2.5, 0], [1.4, 3.4, 0]])
    best = apart_m(pose.camera, pixels)
    varied = np.array([apart_m(camera, pixels) for camera in pose.varied()])
    assert abs(best - np.hypot(2.2, 0.9)) < 1.96 * np.sqrt(np.sum((varied - best) ** 2))


@pytest.mark.parametrize("pushed", [(1, -1, 1, -1), (1, 0, 1, -1), (1, 1, 1, -1)])
def test_a_wide_sheet_seen_flat_is_not_what_it_starts_from(pushed):
    # lying on a corner the far sheet looks wider than the near one; its corners are 3 px out, up and down,
    # and taken alone it says that the near one lies above the horizon
    truth = Truth(tilt_deg=13.3, height_m=1.0)
    near, far = truth.sheets({0: (-0.3, 3.6, 0.05), 3: (0.3, 4.9, np.pi / 4)})
    far = replace(far, corners_px=far.corners_px + np.outer(pushed, (0, 3.0)), cov_px2=np.eye(8) * 3.0**2)
    assert np.ptp(far.corners_px[:, 0]) > np.ptp(near.corners_px[:, 0])
    pose = solve_pose([near, far], 1920, 1080)
    assert pose.camera.height_m == pytest.approx(1.0, rel=0.01)
    assert pose.sheets[3][:2] == pytest.approx((0.3, 4.9), abs=0.2)


def test_without_a_sheet_there_is_no_pose():
    with pytest.raises(GreenError, match="no sheet"):
        solve_pose([], 1920, 1080)


WIDE = {"k1": 0.12, "k2": 0.25, "p1": 0.0006, "p2": -0.0004, "k3": 0.04, "k4": 0.42, "k5": 0.33, "k6": 0.10}
"""A lens of 13 mm equivalent, bent by 12 % at the edge: f = 13/36 of the long side."""


def test_a_strong_wide_lens_with_its_profile():
    truth = Truth(f_px=693.0, off=(4.0, -3.0), height_m=1.3, tilt_deg=32)
    truth.bend = np.array([WIDE[k] for k in ("k1", "k2", "p1", "p2", "k3", "k4", "k5", "k6")])
    prior = LensPrior(
        f_over_long_side=695 / 1920, u_ln_f=0.004, k1=0.121, u_k1=0.004, k2=0.251, u_k2=0.004,
        centre_share=(4 / 1920, -3 / 1920), more=tuple(WIDE[k] for k in ("p1", "p2", "k3", "k4", "k5", "k6")),
    )  # fmt: skip
    places = {0: (-1.3, 2.0, 0.4), 3: (1.5, 2.4, -1.1)}
    pixels = truth.project([[-1.6, 2.0, 0], [1.7, 2.3, 0]])  # a putt from edge to edge
    pose = solve_pose(truth.sheets(places, np.random.default_rng(3)), 1920, 1080, prior)
    varied = np.array([apart_m(camera, pixels) for camera in pose.varied()])
    miss = apart_m(pose.camera, pixels) - np.hypot(3.3, 0.3)
    assert abs(miss) < 0.02
    assert abs(miss) < 2.5 * np.sqrt(np.sum((varied - apart_m(pose.camera, pixels)) ** 2))
    # without the profile such a lens is refused, or at least far less right
    with pytest.raises(GreenError, match="puttvision lens"):
        solve_pose(truth.sheets(places), 1920, 1080)


def test_focal_length_from_metadata():
    # 26 mm over 36 mm of film width is 0.722 (CIPA DCG-001 by width, as restated); video crops a little
    prior = LensPrior.from_focal_35mm(26.0)
    assert 0.722 < prior.f_over_long_side < 0.80
    assert prior.u_ln_f < LensPrior().u_ln_f
