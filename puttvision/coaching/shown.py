"""Figures as people read them: no minus before nothing, and shares that add up as printed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from puttvision.coaching.intervals import Estimate


def number(value: float, digits: int = 0) -> str:
    """``0.62``; what rounds to nothing has no sign."""
    return f"{value:z.{digits}f}"


def signed(value: float, digits: int = 0) -> str:
    """``+0.62``, ``-0.62``; what rounds to nothing has no sign."""
    text = f"{value:+z.{digits}f}"
    return text if text.strip("+0.") else text[1:]


def with_interval(one: Estimate, digits: int = 0, *, sign: bool = False) -> str:
    """``0.62 (0.49 to 0.84)``; with ``sign`` a plus before what is above nothing."""
    value, low, high = ((signed if sign else number)(end, digits) for end in (one.value, one.low, one.high))
    return f"{value} ({low} to {high})"


def clear_of(even: float, one: Estimate, digits: int = 0) -> bool:
    """Whether an interval, as it is printed, leaves ``even`` out."""
    return round(one.low, digits) > even or round(one.high, digits) < even


def percent(share: Estimate) -> str:
    """``54 % (40 to 67)``."""
    value, low, high = (number(100 * end) for end in (share.value, share.low, share.high))
    return f"{value} % ({low} to {high})"


def whole(parts: Sequence[float]) -> list[int]:
    """Parts rounded so that they add up to their rounded sum: those nearest to the next one go up."""
    down = [math.floor(part) for part in parts]
    missing = round(math.fsum(parts)) - sum(down)
    by_rest = sorted(range(len(parts)), key=lambda i: (down[i] - parts[i], i))
    return [n + (i in by_rest[:missing]) for i, n in enumerate(down)]
