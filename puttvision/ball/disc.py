"""One ball in one picture: its centre to a few hundredths of a pixel, from its outline.

A sunlit ball's lower half is in shade, so the centroid of its brightness lies too high, and a
threshold cuts the shaded side. Here the ball is a matt sphere (Lambert's cosine law) under one sun,
an even light and a sky that is brighter above, in linear light; the outline lies where the picture
passes from the shaded ball to what is around it. It is that of a sphere of 42.67 mm resting on the
plane, projected with the camera at hand.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares, nnls

from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]

_RAYS = 40
_ANGLE = np.linspace(0, 2 * np.pi, _RAYS, endpoint=False)
_STEP_PX = 0.5
_PLATEAU_PX = 1.5
_SOFT_PX = 1.3
"""Half width of a sharp edge: lens blur, one pixel of area, demosaicing."""
_U_SIZE = 0.006
"""A ball is 42.67 to 42.8 mm (common practice) and the camera's scale is known to about a percent."""
_FLOOR_PX = 0.02
"""What one fit can claim at best: compression and texture are not independent between pixels."""
_LEAST_STEP = 0.07
"""Weakest step of light, as a share of white, that counts: the shaded limb is left to the known size."""
_TOP_LUMA = 212
"""From here on the tone curve flattens: the light was this or more."""
_BRIGHTEST = 2.5
"""No ball is brighter than this over white paper's white."""
_CENSOR_TURNS = 3
_LEAST_ON_THE_WAY = 0.15
"""Share of the rays with an edge that suffices to go on towards a better place."""
_LEAST_CLEAN = 0.7
"""Share of the rays where the lit limb should show that do show it: a shoe's edge lies elsewhere."""
_WORST_SHADING, _WORST_OTHER_LIGHT = 0.15, 0.33
"""Root mean square misfit of a ball's inside over its mean light, lines and letters on it left out; and the
same under the light learnt before, which a cloud or the player's shadow may have changed."""
_PRINTED_SHARE = 0.15
"""So much of a ball may be printed with lines and letters."""
_LINE_SHARE = 0.15
"""Misfit of a sample, in shares of white at usual exposure, that halves its weight."""
_USUAL_LEVEL = 0.7
"""Light of a ball's brightest side at usual exposure; a darker picture has smaller steps."""
_RIDGE = 6.0
"""Pull towards the shading learnt before, in samples: it rules where a smear hides the shading."""
_SUN_STARTS = tuple((azimuth, 0.7) for azimuth in np.arange(0.0, 6.2, 0.8))


@dataclass(frozen=True, slots=True)
class Shading:
    """How a ball is lit: where the sun stands and how much light comes evenly, from the sky, from the sun."""

    sun: tuple[float, float, float]
    """Unit vector towards the sun, in the frame of the green."""
    lights: tuple[float, float, float]
    """Even light, light of the sky from above, light of the sun: shares of white."""


@dataclass(frozen=True, slots=True)
class BallFit:
    """A ball as fitted in one picture."""

    at_px: tuple[float, float]
    """Projection of the ball's centre."""
    cov_px2: tuple[float, float, float]
    """xx, xy, yy."""
    size_ratio: float
    """Outline as seen over outline as predicted."""
    seen: float
    """Share of the outline with a clean edge that is lighter inside."""
    misfit_px: float
    """Robust spread of the edges about the fitted outline."""
    at_m: tuple[float, float]
    """On the plane, under the camera the fit was made with."""
    shading: Shading


@dataclass(frozen=True, slots=True)
class _Geometry:
    """The outline of a ball at one place: rays from its middle to the rim."""

    centre_px: Floats
    rays_px: Floats
    """Shape (n, 2), from the middle of the outline to the rim."""
    length_px: Floats
    normal: Floats
    middle_minus_centre_px: Floats
    axes: Floats
    """Shape (3, 3): towards the camera, sideways, up, in the frame of the green."""


def _geometry(camera: Camera, place_m: Floats) -> _Geometry | None:
    centre = np.array([place_m[0], place_m[1], BALL_RADIUS_M])
    to_ball = centre - camera.centre_m
    distance = float(np.sqrt(to_ball @ to_ball))
    axis = to_ball / distance
    side = np.array([axis[1], -axis[0], 0.0])
    side /= np.sqrt(side @ side) + 1e-12
    up = np.array(
        [
            side[1] * axis[2] - side[2] * axis[1],
            side[2] * axis[0] - side[0] * axis[2],
            side[0] * axis[1] - side[1] * axis[0],
        ]
    )
    sine = BALL_RADIUS_M / distance
    radius = BALL_RADIUS_M * np.sqrt(1 - sine * sine)
    ring = centre - axis * BALL_RADIUS_M * sine
    ring = ring + radius * (np.outer(np.cos(_ANGLE), side) + np.outer(np.sin(_ANGLE), up))
    px = camera.project(np.vstack([centre, ring]))
    if not np.isfinite(px).all():
        return None
    middle = px[1:].mean(axis=0)
    rays = px[1:] - middle
    tangent = np.roll(rays, -1, axis=0) - np.roll(rays, 1, axis=0)
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    normal /= np.hypot(normal[:, 0], normal[:, 1])[:, None] + 1e-12
    normal *= np.sign(np.sum(normal * rays, axis=1))[:, None]
    return _Geometry(
        centre_px=px[0],
        rays_px=rays,
        length_px=np.hypot(rays[:, 0], rays[:, 1]),
        normal=normal,
        middle_minus_centre_px=middle - px[0],
        axes=np.array([-axis, side, up]),
    )


def _surface(share: Floats, axes: Floats) -> Floats:
    """Outward unit normals of the ball at shares of the radius along every ray: (n, m) to (n, m, 3)."""
    rho = np.minimum(share, 1.0)
    across = np.cos(_ANGLE)[:, None, None] * axes[1] + np.sin(_ANGLE)[:, None, None] * axes[2]
    return np.asarray(np.sqrt(1 - rho * rho)[..., None] * axes[0] + rho[..., None] * across)


def _basis(surface: Floats, sun: tuple[float, float, float] | Floats) -> Floats:
    """Even light, sky and sun at unit strength on a surface (..., 3): shape (..., 3)."""
    lit = np.maximum(surface @ np.asarray(sun), 0.0)
    return np.stack([np.ones_like(lit), (1 + surface[..., 2]) / 2, lit], axis=-1)


def _learn(surface: Floats, light: Floats, top: float) -> Shading:
    """Find the sun and the lights from the inside of one sharp ball; (n, 3) normals, (n,) light."""
    full = light > top

    def fitted(angles: Floats) -> tuple[Floats, Floats, Floats]:
        azimuth, elevation = angles
        sun = np.array(
            [np.cos(elevation) * np.cos(azimuth), np.cos(elevation) * np.sin(azimuth), np.sin(elevation)]
        )
        rows = _basis(surface, sun)
        raised = light
        for _ in range(_CENSOR_TURNS if full.any() else 1):
            lights = nnls(rows, raised)[0]
            raised = np.where(full, np.clip(rows @ lights, light, _BRIGHTEST), light)
        return sun, lights, np.asarray(rows @ lights - raised)

    best = min(_SUN_STARTS, key=lambda start: float(np.abs(fitted(np.array(start))[2]).sum()))
    refined = least_squares(
        lambda angles: fitted(angles)[2], best, bounds=([-1.0, 0.05], [7.5, 1.55]), loss="soft_l1",
        f_scale=0.03, max_nfev=8, diff_step=1e-3,
    )  # fmt: skip
    sun, lights, _ = fitted(refined.x)
    return Shading(
        sun=(float(sun[0]), float(sun[1]), float(sun[2])),
        lights=(float(lights[0]), float(lights[1]), float(lights[2])),
    )


def fit_ball(
    picture: NDArray[np.uint8],
    camera: Camera,
    guess_m: tuple[float, float] | Floats,
    table: NDArray[np.float32],
    *,
    smear_px: float = 0.0,
    reach_px: float = 3.5,
    shading: Shading | None = None,
    least_seen: float = 0.3,
) -> BallFit | None:
    """Fit the outline of a ball that is expected within ``reach_px`` of a place on the plane.

    Parameters
    ----------
    picture : shape (h, w), luma
    camera : the camera over the green
    guess_m : shape (2,), the point on the plane under the ball's centre
    table : ``puttvision.green.edges.linear_light`` of the clip's tone curve
    smear_px : how far the ball moves during the exposure
    reach_px : how far off the outline may be
    shading : of the same ball as fitted before, so that a smear does not hide it
    least_seen : share of the outline that has to be seen

    Returns None where no ball stands there.
    """
    shape = _geometry(camera, np.asarray(guess_m, dtype=float))
    if shape is None:
        return None
    radius = float(shape.length_px.mean())
    if radius < 2.0:
        return None
    reach = reach_px + smear_px / 2
    soft = min(_SOFT_PX + smear_px / 2, 0.55 * radius)
    share = np.arange(0.15, 1 + reach / radius, _STEP_PX / radius)
    sideways = (share - 1) * radius  # pixels outwards of the rim, near enough on every ray
    surface = _surface(np.broadcast_to(share, (_RAYS, share.size)), shape.axes)
    core = sideways < -soft
    edge = ~core
    outer = sideways > reach - _PLATEAU_PX
    inner = -(float(sideways[edge][0]) - _STEP_PX / 2)
    known = shading
    basis = None if known is None else _basis(surface, known.sun)
    obliqueness = np.sum(shape.normal * shape.rays_px, axis=1) / shape.length_px
    design_all = np.column_stack([shape.normal, np.full(_RAYS, radius)])
    prior = np.diag([0.0, 0.0, 1 / _U_SIZE**2])
    at_px = shape.centre_px
    size = 1.0
    light: Floats | None = None
    top = float(table[_TOP_LUMA])
    for turn in range(5 if shading is None else 4):
        light = _sample(picture, at_px + shape.middle_minus_centre_px, shape.rays_px * size, share, table)
        if light is None:
            return None
        if known is None or basis is None or (shading is None and turn == 1):
            known = _learn(surface[:, core].reshape(-1, 3), light[:, core].ravel(), top)
            basis = _basis(surface, known.sun)
        lights = _lights(basis[:, core].reshape(-1, 3), light[:, core].ravel(), known, top)
        outside = light[:, outer].mean(axis=1)
        body = basis[:, edge] @ lights
        rise = body - outside[:, None]
        step = rise.min(axis=1)
        level = min(max(float(lights.sum()) / _USUAL_LEVEL, 0.5), 1.0)
        usable = step > _LEAST_STEP * level
        covered = (light[:, edge] - outside[:, None]) / np.where(usable[:, None], rise, 1.0)
        offset = (covered.sum(axis=1) * _STEP_PX - inner) * obliqueness
        good = usable & (covered.max(axis=1) < 1.7) & (covered.min(axis=1) > -0.7)
        good &= np.abs(offset) < 0.75 * reach
        if np.count_nonzero(good) < _LEAST_ON_THE_WAY * _RAYS:
            return None
        design, miss = design_all[good], offset[good]
        weight = np.minimum(step[good] / (0.3 * level), 1.0) ** 2
        solution = np.zeros(3)
        prior_pull = np.array([0.0, 0.0, (1 - size) / _U_SIZE**2])
        for _ in range(2):
            rest = miss - design @ solution
            spread = 1.4826 * float(np.sort(np.abs(rest))[len(rest) // 2]) + 0.03
            w = weight / (1 + (rest / (2 * spread)) ** 2) / spread**2
            matrix = design.T @ (design * w[:, None]) + prior
            solution = np.linalg.solve(matrix, design.T @ (w * miss) + prior_pull)
        move = np.clip(solution[:2], -0.8 * reach, 0.8 * reach)
        at_px = at_px + move
        size = float(np.clip(size + solution[2], 0.8, 1.2))
        if max(abs(move[0]), abs(move[1])) < 0.05 and turn >= (2 if shading is None else 1):
            break
    if light is None or basis is None or known is None:
        return None
    if spread > 0.10 * radius + 0.30 or np.count_nonzero(good) < least_seen * _RAYS:
        return None
    if np.count_nonzero(good) < _LEAST_CLEAN * np.count_nonzero(usable):
        return None
    inside = light[:, core]
    shaded = np.where(inside > top, np.maximum(basis[:, core] @ lights, inside), basis[:, core] @ lights)
    raised = np.where(inside > top, shaded, inside)
    misfits = np.sort(np.abs(shaded - raised), axis=None)
    plain = misfits[: int((1 - _PRINTED_SHARE) * misfits.size)]
    worst = _WORST_SHADING if shading is None else _WORST_OTHER_LIGHT
    if np.sqrt(np.mean(plain**2)) > worst * float(inside.mean()):
        return None
    if np.abs(shape.normal[good].sum(axis=0)).max() > 0.5 * _RAYS:
        return None  # only one side was seen
    at_m = camera.to_plane(at_px, BALL_RADIUS_M)
    if not np.isfinite(at_m).all():
        return None
    # neighbouring rays share pixels: about one in two is independent
    cov = np.linalg.inv(matrix) * 2.0 + np.diag([_FLOOR_PX**2] * 3)
    return BallFit(
        at_px=(float(at_px[0]), float(at_px[1])),
        cov_px2=(float(cov[0, 0]), float(cov[0, 1]), float(cov[1, 1])),
        size_ratio=size,
        seen=float(good.mean()),
        misfit_px=spread,
        at_m=(float(at_m[0]), float(at_m[1])),
        shading=Shading(known.sun, (float(lights[0]), float(lights[1]), float(lights[2]))),
    )


def _sample(
    picture: NDArray[np.uint8], middle: Floats, rays: Floats, share: Floats, table: NDArray[np.float32]
) -> Floats | None:
    """Light along the rays, shape (rays, shares); None where they leave the picture."""
    x = middle[0] + rays[:, 0, None] * share
    y = middle[1] + rays[:, 1, None] * share
    x0, y0 = int(x.min()) - 1, int(y.min()) - 1
    x1, y1 = int(x.max()) + 3, int(y.max()) + 3
    height, width = picture.shape
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
        return None
    light = table[picture[y0:y1, x0:x1]]
    along = cv2.remap(light, (x - x0).astype(np.float32), (y - y0).astype(np.float32), cv2.INTER_LINEAR)
    return np.asarray(along, dtype=np.float64)


def _lights(rows: Floats, light: Floats, known: Shading, top: float) -> Floats:
    """The three lights by ridge regression towards those learnt before, scaled to this picture.

    Where the picture is near its top the light was at least what is seen: such samples only pull
    upwards (a censored regression by alternating expectation and least squares). A bold line on the
    ball, or a putter's edge before it, counts little (weights of Cauchy's kind). No light is negative.
    """
    before = np.asarray(known.lights)
    expected = rows @ before
    gain = float(np.clip((expected @ light) / max(float(expected @ expected), 1e-9), 0.2, 3.0))
    pull = _RIDGE * gain * before
    full = light > top
    any_full = bool(full.any())
    modelled = gain * expected
    for turn in range(_CENSOR_TURNS):
        raised = np.where(full, np.clip(modelled, light, _BRIGHTEST), light) if any_full else light
        misfit = (raised - modelled) / (_LINE_SHARE * gain)
        weighted = rows.T / (1 + misfit * misfit) if turn else rows.T
        lights = np.linalg.solve(weighted @ rows + _RIDGE * np.eye(3), weighted @ raised + pull)
        lights = np.maximum(lights, 0.0)
        modelled = rows @ lights
    return np.asarray(lights)
