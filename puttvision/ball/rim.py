"""Where the picture passes from ball to grass, ray by ray, and the shift that brings the outline there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from puttvision.ball.inside import Inside
from puttvision.ball.outline import RAYS, Fan, Outline
from puttvision.ball.small_systems import solve3

Floats = NDArray[np.float64]

PLATEAU_PX = 1.5
_U_SIZE = 0.006
"""A ball is 42.67 to 42.8 mm (common practice) and the camera's scale is known to about a percent."""
_LEAST_STEP = 0.07
"""Weakest step of light, as a share of white, that counts: the shaded limb is left to the known size."""
_LEAST_LEFT = 0.2
"""Of the light just within, so much must be left at the rim: where shade begins, blur hides the edge."""
_LEAST_ON_THE_WAY = 0.15
"""Share of the rays with an edge that suffices to go on towards a better place."""
_LEAST_WITHIN = 0.5
"""Of the step at an edge, so much has to be there where the ball's inside begins."""
_ALL_ROUND, _U_SPILL = 0.75, 0.5
"""A ball burnt out on so many sides, as a share of the rays, does not tell how bright it is: its spill
may be wrong all round by so many deviations of the blur. On fewer sides, what is not burnt out tells."""
_USUAL_LEVEL = 0.7
"""Light of a ball's brightest side at usual exposure; a darker picture has smaller steps."""


@dataclass(frozen=True, slots=True)
class Rim:
    """Where the picture passes from ball to grass, ray by ray; arrays of shape (RAYS,)."""

    offset_px: Floats
    """Edge seen over edge expected, outwards."""
    weight: Floats
    usable: NDArray[np.bool_]
    """Rays where the ball should stand out against what is around it."""
    good: NDArray[np.bool_]
    """Rays with one clean edge within reach."""
    step: Floats
    """Of light at the edge."""
    around: Floats
    """Light outside."""
    u_spill_px: float
    """How far out all the edges may lie together because light beyond the picture's top is but modelled."""

    @property
    def contrast(self) -> float:
        """Mean, over the good rays, of the step at the edge as a share of the light within it."""
        step, around = self.step[self.good], self.around[self.good]
        return float((step / (step + around)).sum()) / step.size

    @property
    def seen(self) -> float:
        """Share of the rays that are good."""
        return np.count_nonzero(self.good) / RAYS


def rim_of(
    outline: Outline, fan: Fan, inside: Inside, light: Floats, reach: float, blur_px: Floats | None
) -> Rim | None:
    """The edges along the rays; None where there are too few.

    ``blur_px``: deviation of the blur across each ray's edge, shape (RAYS,). With it, the light within the
    rim is what is seen there; without, what the model says.
    """
    outside = light[:, int(fan.outwards_px.searchsorted(reach - PLATEAU_PX, side="right")) :]
    around = outside.sum(axis=1, keepdims=True) / outside.shape[1]
    edge, across = inside.at_edge(), light[:, inside.n_core :]
    full = lit = np.zeros(RAYS, dtype=bool)
    if blur_px is None:  # what lies across the expected rim may well be the ball's inside
        edge = np.minimum(edge[:, :1], inside.brightest())  # and what is past the picture's top looks like it
    else:
        edge = inside.as_seen(edge)
        # blurred, a burnt-out rim shows the light of what lies within it as well
        bright = (edge[:, 0] + edge[:, -1]) / 2
        # and with the sun behind the lens, shade begins at the rim, and its blur is burnt out all the same
        lit = inside.burnt_out() & (edge[:, 0] > inside.top)
        full = lit | (bright > inside.top)
    rise = edge - around
    step = rise.min(axis=1)
    level = min(max(float(inside.lights.sum()) / _USUAL_LEVEL, 0.5), 1.0)
    within = np.minimum(rise[:, 0], inside.top)  # beyond the picture's top nothing looks brighter
    usable = lit | ((step > _LEAST_STEP * level) & (step > _LEAST_LEFT * within))
    covered = (across - around) / np.where(usable[:, None], rise, 1.0)
    full &= usable
    spilt = np.zeros(RAYS)
    if blur_px is not None and full.any():
        under = np.maximum(inside.top - around[full], 0.1)
        covered[full] = (np.minimum(across[full], inside.top) - around[full]) / under
        spilt[full] = blur_px[full] * _spill((bright[full] - around[full, 0]) / under[:, 0])
    offset = (covered.sum(axis=1) * fan.step_px - inside.inner_px) * outline.obliqueness - spilt
    good = usable & (covered.max(axis=1) < 1.7) & (covered.min(axis=1) > -0.7)
    good &= np.abs(offset) < 0.75 * reach
    if blur_px is not None:  # an edge has something of the ball within it
        good &= covered[:, 0] > _LEAST_WITHIN
    if np.count_nonzero(good) < _LEAST_ON_THE_WAY * RAYS:
        return None
    u_spill_px = 0.0
    if blur_px is not None and np.count_nonzero(inside.burnt_out() & good) > _ALL_ROUND * RAYS:
        u_spill_px = _U_SPILL * float(blur_px.mean())
    step = np.where(full, np.minimum(within, inside.top - around[:, 0]), step)
    weight = np.minimum(step / (0.3 * level), 1.0) ** 2
    return Rim(
        offset_px=offset,
        weight=weight,
        usable=usable,
        good=good,
        step=step,
        around=around[:, 0],
        u_spill_px=u_spill_px,
    )


def _spill(ratio: Floats) -> Floats:
    """How far an edge cut off at 1 / ratio of its height seems to lie outwards, in deviations of its blur.

    The integral of min(c Phi(x), 1) over that of a sharp step is c phi(Phi^-1(1 / c)) (the first moment of
    a cut normal distribution)."""
    return np.asarray(np.interp(ratio, _RATIOS, _SPILLS))


_RATIOS = np.linspace(1.001, 8.0, 200)
_SPILLS = _RATIOS * np.exp(-(ndtri(1 / _RATIOS) ** 2) / 2) / np.sqrt(2 * np.pi)


@dataclass(frozen=True, slots=True)
class Step:
    """One turn of the fit."""

    move_px: Floats
    growth: float
    """Added to the size ratio."""
    spread_px: float
    """Robust spread of the edges about the new outline."""
    information: Floats
    """Shape (3, 3): x, y, size."""


def solve(outline: Outline, rim: Rim, size: float) -> Step:
    """Shift and growth that bring the outline onto the edges: robust least squares, the size near one."""
    good = rim.good
    u_size = float(np.hypot(_U_SIZE, rim.u_spill_px / outline.radius_px))
    design = np.empty((np.count_nonzero(good), 3))
    design[:, :2] = outline.normal[good]
    design[:, 2] = outline.radius_px
    miss, weight = rim.offset_px[good], rim.weight[good]
    pull = np.array([0.0, 0.0, (1 - size) / u_size**2])
    rest = miss
    for _ in range(2):
        sizes = np.abs(rest)
        sizes.partition(sizes.size // 2)
        spread = 1.4826 * float(sizes[sizes.size // 2]) + 0.03
        ratio = rest * (0.5 / spread)
        weighted = design.T * (weight / ((1 + ratio * ratio) * spread**2))
        information = weighted @ design
        information[2, 2] += 1 / u_size**2
        solution = np.array(solve3(information, weighted @ miss + pull))
        rest = miss - design @ solution
    return Step(move_px=solution[:2], growth=float(solution[2]), spread_px=spread, information=information)
