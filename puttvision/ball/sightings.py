"""What following a ball gives: where it was seen, frame by frame, and where it lay before and after."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from puttvision.ball.disc import BallFit


@dataclass(frozen=True, slots=True)
class Sighting:
    """A ball in one frame."""

    time_s: float
    """Presentation time of the frame: the middle of the exposure of its first row."""
    at_px: tuple[float, float]
    """Projection of the ball's centre."""
    cov_px2: tuple[float, float, float]
    """xx, xy, yy."""
    size_ratio: float
    """Outline as seen over outline as predicted by the camera at hand."""
    seen: float
    """Share of the outline that was seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lie:
    """A ball at rest: the mean of its fits."""

    at_px: tuple[float, float]
    cov_px2: tuple[float, float, float]
    """Of the mean; never below what the texture of one place allows."""
    size_ratio: float
    n_fits: int
    first_s: float
    last_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """One ball's way from where it lay to where it was last seen."""

    start: Lie
    sightings: tuple[Sighting, ...]
    end: Literal["rest", "lost", "left"]
    """At rest, lost from sight, or out of the picture."""
    rest: Lie | None
    hole_covered: tuple[tuple[float, float], ...]
    """Time, and how unlike itself the hole looked then, 0 to 1 (``HoleView.covered``)."""

    @property
    def settled_s(self) -> float:
        """From when it was first seen at rest to when it was first seen under way."""
        return self.sightings[0].time_s - self.start.first_s

    @property
    def gone_s(self) -> float:
        """From when it was last seen at rest to when it was first seen under way."""
        return self.sightings[0].time_s - self.start.last_s


def sighting(time_s: float, fit: BallFit) -> Sighting:
    """A fit with its time."""
    return Sighting(time_s, fit.at_px, fit.cov_px2, fit.size_ratio, fit.seen)


_LIE_FLOOR_PX = 0.03
"""The same pixels give the same error however often they are looked at."""


def mean_lie(fits: list[tuple[float, BallFit]]) -> Lie:
    """Median place of the fits of a ball at rest; ``fits`` holds (time, fit), at least one."""
    n = len(fits)
    if n == 0:
        raise ValueError("a lie needs at least one fit")
    xs = sorted(fit.at_px[0] for _, fit in fits)
    ys = sorted(fit.at_px[1] for _, fit in fits)
    cov = fits[n // 2][1].cov_px2
    shrink = 1 / min(n, 4)
    floor = _LIE_FLOOR_PX**2
    return Lie(
        at_px=(_median(xs), _median(ys)),
        cov_px2=(cov[0] * shrink + floor, cov[1] * shrink, cov[2] * shrink + floor),
        size_ratio=_median(sorted(fit.size_ratio for _, fit in fits)),
        n_fits=n,
        first_s=fits[0][0],
        last_s=fits[-1][0],
    )


def _median(ordered: list[float]) -> float:
    middle = len(ordered) // 2
    return ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2
