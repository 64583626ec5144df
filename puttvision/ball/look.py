"""Looking for a ball in one frame: at a known place, or among what is newly bright around one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import islice
from math import hypot

import cv2
import numpy as np
from numpy.typing import NDArray

from puttvision.ball.bright_part import ALL_WHOLE, BrightParts
from puttvision.ball.colour import FrameColour
from puttvision.ball.disc import BallFit, fit_ball, fit_likeness
from puttvision.ball.finder import FinderSettings, NoBall, ball_radius_px, no_ball, round_patches
from puttvision.ball.shading import Shading
from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M

Floats = NDArray[np.float64]
Plane = NDArray[np.uint8]
Place = tuple[float, float]
Box = tuple[int, int, int, int]
"""x0, y0, x1, y1 in pixels."""

_U_TEXTURE_PX = 0.1
"""Added to a fit's own covariance when places are compared: grass and compression between frames."""
_REACH_PX = 5.0
_NEAR_BOXES = 2
"""So many boxes of the hole's surroundings, each 1.6 holes wide, on either side of its own are near it."""
_U_EDGE_IN_COLOUR_PX = 0.15
"""Colour is recorded at half the sharpness of luma: a small ball's edges lie off by so much more (measured on
filmed orange balls)."""
_SURE_REACH = 0.6
"""A ball no farther off than this share of its radius shows its colour at the expected place."""
_PATCHES, _FEW_PATCHES = 4, 2
"""So many newly bright patches, and as many newly of no grass's colour, are fitted in one frame, the roundest
first; fewer where the light is unknown and each fit takes ten times as long."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """A frame from before a ball left its place."""

    luma: Plane
    colour: FrameColour | None = None
    """None where luma shows all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """The means of looking: camera, tone curve, the light on the balls."""

    camera: Camera
    table: NDArray[np.float32]
    shading: Shading | None = None
    finder: FinderSettings = field(default_factory=FinderSettings)
    part: BrightParts = ALL_WHOLE
    """What of a ball is bright under that light."""
    colour: FrameColour | None = None
    """Of the frame looked at; None where colour tells nothing."""
    lying: tuple[Box, ...] = ()
    """Where balls lie in this frame."""
    luma_shows: bool = False
    """Whether this clip's balls stand out well in luma alone; then colour only has a veto."""

    def at(
        self,
        luma: Plane,
        at_m: Place | Floats,
        reach_px: float,
        smear_m: Place | Floats = (0.0, 0.0),
        shading: Shading | None = None,
        *,
        expected: bool = False,
        relit: bool = False,
    ) -> BallFit | None:
        """The ball at a place on the plane, if one is there: in luma, or where its colour shows it.

        ``expected``: a ball under way is to be seen there. ``relit``: where the clip's light is unknown, it
        may have rolled out of the shade in which its own was learnt.
        """
        shading = shading or self.shading
        at = [at_m[0], at_m[1], BALL_RADIUS_M]
        radius_px = BALL_RADIUS_M * self.camera.px_per_m(at)
        colour = self.colour
        sure = reach_px < _SURE_REACH * radius_px
        if colour is not None and sure and colour.is_grass(self.camera.project(at), radius_px):
            return None
        fit = fit_ball(
            luma, self.camera, at_m, self.table,
            smear_m=smear_m, reach_px=reach_px, shading=shading, expected=expected,
            shows_well=self.luma_shows,
        )  # fmt: skip
        if fit is None and relit and self.shading is None:
            fit = fit_ball(luma, self.camera, at_m, self.table, smear_m=smear_m, reach_px=reach_px)
        if colour is None:
            return fit
        if fit is not None and colour.is_grass(fit.at_px, radius_px):
            return None
        if fit is not None and (fit.clear or self.luma_shows):
            return fit
        if self.luma_shows and not expected:
            return None
        hue = colour.hue(self.camera.project(at), radius_px)
        if hue is None or not colour.grass.is_other(hue):
            return fit
        in_colour = fit_ball(
            colour.plane(hue), self.camera, at_m, self.table,
            smear_m=smear_m, reach_px=reach_px, shading=shading, u_edge_px=_U_EDGE_IN_COLOUR_PX,
        )  # fmt: skip
        return in_colour or fit

    def alike(self, luma: Plane, at_m: Place | Floats, reach_px: float) -> BallFit | None:
        """The ball at a place that looks much like one, where print on it hides its rim."""
        if self.shading is None:
            return None
        fit = fit_likeness(luma, self.camera, at_m, self.table, reach_px, self.shading)
        return None if fit is None or self.is_grass(fit.at_m) else fit

    def is_grass(self, at_m: Place | Floats) -> bool:
        """Whether grass shows its colour at a place on the plane."""
        at_px = self.camera.project([at_m[0], at_m[1], BALL_RADIUS_M])
        return self.colour is not None and self.colour.is_grass(at_px, ball_radius_px(self.camera, at_px))

    def newly_there(
        self,
        luma: Plane,
        earlier: Earlier,
        around_m: Place,
        reach_m: float,
        *,
        shading: Shading | None,
        smear_m: Place | Floats = (0.0, 0.0),
        smear_share: float = 0.0,
        taken: Sequence[Place] = (),
        others: list[NoBall] | None = None,
        hue: Floats | None = None,
    ) -> list[BallFit]:
        """Balls among what is brighter than in an earlier frame, or less of grass's colour, within reach of a
        place, the best first; where one is clear, no more are looked for.

        ``smear_share``: where no ``smear_m`` is known, the move during the exposure as a share of the way
        from ``around_m``. ``taken``: places of other balls, which are not looked for. ``others``: patches
        looked at before that are no balls: while they look the same they are passed over; new ones are added.
        ``hue``: of the ball, where it is known, shape (2,).
        """
        if earlier.luma.shape != luma.shape:
            return []
        at = [around_m[0], around_m[1], BALL_RADIUS_M]
        centre, px_per_m = self.camera.project(at), self.camera.px_per_m(at)
        r = (reach_m + 1.5 * BALL_RADIUS_M) * px_per_m
        height, width = luma.shape
        x0, y0 = max(0, int(centre[0] - r)), max(0, int(centre[1] - r))
        x1, y1 = min(width, int(centre[0] + r) + 1), min(height, int(centre[1] + r) + 1)
        if x1 - x0 < 4 or y1 - y0 < 4:
            return []
        brighter = cv2.subtract(luma[y0:y1, x0:x1], earlier.luma[y0:y1, x0:x1])
        differs = [(brighter, self.part)]
        if self.colour is not None and earlier.colour is not None:
            now, before = (c.off_grass_within((x0, y0, x1, y1)) for c in (self.colour, earlier.colour))
            differs.insert(0, (cv2.subtract(now, before), ALL_WHOLE))
        patches: list[Floats] = []
        by_colour = len(differs) > 1
        for difference, part in differs:
            mask = cv2.threshold(difference, self.finder.brighter_by, 1, cv2.THRESH_BINARY)[1]
            found_px = round_patches(
                np.asarray(mask, dtype=np.uint8), (x0, y0), 1.0, self.camera, self.finder, part
            )
            fresh = (
                at_px
                for at_px in found_px
                if not any(o.same(luma, at_px) for o in others or ()) and self._has_hue(at_px, hue)
            )
            patches += islice(fresh, _PATCHES if self.shading is not None else _FEW_PATCHES)
        found: list[BallFit] = []
        # what shares the way from there may not have moved from there: then it is looked for unsmeared
        for share in (smear_share, 0.0) if smear_share else (0.0,):
            for k, at_px in enumerate(patches):
                place = self.camera.to_plane(at_px, BALL_RADIUS_M)
                smear = (place - np.array(around_m)) * share if smear_share else smear_m
                relit = by_colour and k == 0
                fit = self.at(luma, place, _REACH_PX, smear, shading, relit=relit)
                if fit is None or apart(fit.at_m, around_m) > reach_m:
                    continue
                if any(apart(fit.at_m, other) < BALL_RADIUS_M for other in taken):
                    continue
                found.append(fit)
                if fit.clear:
                    break
            if found:
                break
        if others is not None and not found:
            others += [no_ball(luma, self.camera, at_px) for at_px in patches]
        return sorted(found, key=lambda fit: fit.misfit_px / fit.seen)

    def hue_of(self, fit: BallFit) -> Floats | None:
        """Of a ball in this frame, shape (2,); None where colour tells nothing."""
        if self.luma_shows or self.colour is None:
            return None
        return self.colour.hue(fit.at_px, ball_radius_px(self.camera, np.array(fit.at_px)))

    def _has_hue(self, at_px: Floats, hue: Floats | None) -> bool:
        """Whether a patch has a ball's hue, give or take grass that shines through a moving ball's smear."""
        if hue is None or self.colour is None:
            return True
        seen = self.colour.hue(at_px, ball_radius_px(self.camera, at_px))
        return seen is None or self.colour.grass.is_like(seen, hue)

    def cov_m2(self, fit: BallFit) -> Floats:
        """Covariance of a fit's place on the plane, shape (2, 2)."""
        jacobian = self.camera.plane_jacobian(fit.at_m, BALL_RADIUS_M)
        xx, xy, yy = fit.cov_px2
        cov = np.array([[xx + _U_TEXTURE_PX**2, xy], [xy, yy + _U_TEXTURE_PX**2]])
        return np.asarray(jacobian @ cov @ jacobian.T)


@dataclass(frozen=True, slots=True)
class HoleView:
    """The hole's surroundings as they look when nothing stands before them."""

    box: Box
    still: Plane
    """That part of the still picture, shape (y1 - y0, x1 - x0)."""

    def is_near(self, at_px: Floats) -> bool:
        """Whether a place in the picture, shape (2,), is within four hole widths or so."""
        x0, y0, x1, y1 = self.box
        beside, above = _NEAR_BOXES * (x1 - x0), _NEAR_BOXES * (y1 - y0)
        return bool(x0 - beside < at_px[0] < x1 + beside and y0 - above < at_px[1] < y1 + above)

    def covered(self, luma: Plane, lying: Sequence[Box] = ()) -> float:
        """How unlike itself the hole looks, 0 to 1: one less the normalised cross-correlation.

        The hole's dark oval on the green is a strong pattern; light that changes leaves it, a shoe does not.
        ``lying``: where balls lie, which hide no other for long and are left out.
        """
        x0, y0, x1, y1 = self.box
        now = luma[y0:y1, x0:x1]
        if now.shape != self.still.shape or now.size == 0:
            return 1.0
        besides = [lie for lie in lying if lie[0] < x1 and lie[2] > x0 and lie[1] < y1 and lie[3] > y0]
        still_now = self.still
        if besides:
            free = np.ones(now.shape, dtype=bool)
            for left, top, right, bottom in besides:
                free[max(top - y0, 0) : bottom - y0, max(left - x0, 0) : right - x0] = False
            now, still_now = now[free], still_now[free]
        seen, still = _about_its_mean(now), _about_its_mean(still_now)
        strength = float(np.sqrt((seen @ seen) * (still @ still)))
        return 1.0 if strength == 0 else min(max(1 - float(seen @ still) / strength, 0.0), 1.0)


def _about_its_mean(part: Plane) -> NDArray[np.float32]:
    """Flat, less the mean."""
    flat = part.ravel().astype(np.float32)
    return np.asarray(flat - flat.sum() / flat.size, dtype=np.float32)


def apart(a: Place | Floats, b: Place | Floats) -> float:
    """Distance of two places."""
    return hypot(a[0] - b[0], a[1] - b[1])
