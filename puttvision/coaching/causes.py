"""Why putts miss: how far start line, pace and read each carried the ball past the hole's centre.

A ball that rolls on past the hole by R (over a covered hole) has broken, where it passes the hole at
distance d, by ``k * break_shape(d, R)``: k = cross slope's pull over twice the rolling deceleration, one
number for all putts from one spot. So each putt's offset at the hole splits without rest into

- start line: d sin(start direction), less the mean of its spot: the stroke did not start where the others do;
- pace: its break less the mean break of its spot: a firmer ball breaks less;
- read: the mean start line plus the mean break of the spot: line and pace chosen do not belong together;
- the rest: what the model of one even slope leaves: bumps, and the film's own error.

A ball that stops short of the hole missed by pace and has no offset there; one that met a post of the gate
missed by its start line, and its way beyond tells nothing of the stroke. Millimetres, right positive.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from puttvision.coaching.attempts import Attempt
from puttvision.coaching.intervals import TooFew
from puttvision.physics import capture_offset, deceleration_from_stimp

Cause = Literal["start line", "pace", "read", "the rest"]
CAUSES: tuple[Cause, ...] = ("start line", "pace", "read", "the rest")

FEWEST = 5
"""Putts from one spot in one session below which their mean says little of the read."""
USUAL_STIMP_FT = 9.0
"""Where the clip did not give the green's speed; it only sets how wide the hole is at a run-out."""
SPOT_M = 0.25
"""Putts whose distances round to the same multiple of this come from one spot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """One putt that reached the hole; the four parts add up to ``offset_mm``."""

    session: int
    number: int
    holed: bool
    offset_mm: float
    line_mm: float
    pace_mm: float
    read_mm: float
    rest_mm: float
    takes_mm: float
    """Half-width of what the hole takes at this ball's pace (`physics.capture_offset`)."""
    takes_usually_mm: float
    """The same at the usual pace from this spot."""
    cause: Cause | None
    """Of a miss: what alone would have mended it, the largest where several or none would; None: holed."""

    def part(self, cause: Cause) -> float:
        """One of the four parts, mm."""
        return dict(zip(CAUSES, (self.line_mm, self.pace_mm, self.read_mm, self.rest_mm), strict=True))[cause]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """Shares of the mean squared offset at the hole; they add up to 1."""

    start_line: float
    pace: float
    read: float
    the_rest: float
    rms_mm: float
    """Root mean square of the offset."""
    n: int

    @property
    def largest(self) -> Cause:
        return max(zip(CAUSES, self.all, strict=True), key=lambda pair: pair[1])[0]

    @property
    def all(self) -> tuple[float, float, float, float]:
        """In the order of `CAUSES`."""
        return self.start_line, self.pace, self.read, self.the_rest


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """What a set of putts says about its misses."""

    parts: tuple[Parts, ...]
    short: tuple[tuple[int, int], ...]
    """(session, number) of the misses that stopped before the hole: pace."""
    at_gate: tuple[tuple[int, int], ...]
    """(session, number) of the misses that a post of the gate turned and slowed: start line."""
    left_out: int
    """Putts that lack a measure, or come from a spot with too few of them."""
    shares: Shares | TooFew

    @property
    def causes(self) -> dict[Cause, int]:
        """Number of misses by cause: balls that stopped short missed by pace, those at a post by line."""
        found = Counter(parts.cause for parts in self.parts if parts.cause is not None)
        found["pace"] += len(self.short)
        found["start line"] += len(self.at_gate)
        return {cause: found[cause] for cause in CAUSES}


def break_shape(distance_m: float, run_out_m: float) -> float:
    """Metres which, times k, a ball has broken as it passes the hole: d - R ln(1 + d/R).

    From v' = -a v/|v| + c with c small against a: the ball's own drift, dy/dt = (c/a) u ln(u0/u), u the speed
    along, integrated down to the speed at the hole, with u0^2 = 2a(d + R) and k = c/2a. R = 0: just d, the
    die-in line. Skid is left out: it shortens the whole break by the same factor for like putts.
    """
    if run_out_m <= 0:
        return distance_m
    return distance_m - run_out_m * math.log1p(distance_m / run_out_m)


def explain(attempts: Iterable[Attempt]) -> Explained:
    """Split the offsets of all putts that can be split, spot by spot."""
    spots: dict[tuple[int, int, str], list[Attempt]] = {}
    short, at_gate, left_out = [], [], 0
    for attempt in attempts:
        distance_m, run_out_m = attempt.distance_m, attempt.putt.run_out_m.value
        if attempt.putt.outcome == "missed" and attempt.putt.gate_result == "touched":
            at_gate.append((attempt.session, attempt.putt.number))
        elif attempt.putt.outcome == "missed" and _stopped_short(attempt):
            short.append((attempt.session, attempt.putt.number))
        elif (
            attempt.holed is None
            or distance_m is None
            or run_out_m is None
            or not attempt.start_line
            or not attempt.putt.hole_offset_mm
            or attempt.putt.gate_result == "touched"
        ):
            left_out += 1
        else:
            spot = (attempt.session, round(distance_m / SPOT_M), attempt.side)
            spots.setdefault(spot, []).append(attempt)
    parts: list[Parts] = []
    for alike in spots.values():
        if len(alike) < FEWEST:
            left_out += len(alike)
        else:
            parts += _of_spot(alike)
    parts.sort(key=lambda one: (one.session, one.number))
    return Explained(
        parts=tuple(parts),
        short=tuple(short),
        at_gate=tuple(at_gate),
        left_out=left_out,
        shares=shares(parts),
    )


def _stopped_short(attempt: Attempt) -> bool:
    run_out_m = attempt.putt.run_out_m.value
    if run_out_m is None:
        return attempt.putt.miss_length == "short"
    return run_out_m < 0


def shares(parts: Sequence[Parts]) -> Shares | TooFew:
    """Each part's share of the mean squared offset: mean(part x offset) / mean(offset^2).

    They add up to 1 exactly. Where two parts go together (a player who pulls his firm putts), what they
    have in common is split between them; a share can then be below 0. The start direction's own measuring
    error is in the start line with one sign and in the rest with the other, so it favours neither.
    """
    if len(parts) < FEWEST:
        return TooFew(n=len(parts), needed=FEWEST)
    square = math.fsum(one.offset_mm**2 for one in parts)
    if square == 0:
        return TooFew(n=len(parts), needed=len(parts) + 1)
    each = [math.fsum(one.part(cause) * one.offset_mm for one in parts) / square for cause in CAUSES]
    return Shares(
        start_line=each[0],
        pace=each[1],
        read=each[2],
        the_rest=each[3],
        rms_mm=math.sqrt(square / len(parts)),
        n=len(parts),
    )


def _of_spot(alike: Sequence[Attempt]) -> list[Parts]:
    d_m = [attempt.distance_m or 0.0 for attempt in alike]
    run_m = [max(attempt.putt.run_out_m.value or 0.0, 0.0) for attempt in alike]
    offset_mm = [attempt.putt.hole_offset_mm.value or 0.0 for attempt in alike]
    start_mm = [
        1000 * d * math.sin(math.radians(a.start_line.value or 0.0)) for d, a in zip(d_m, alike, strict=True)
    ]
    shape = [break_shape(d, run) for d, run in zip(d_m, run_m, strict=True)]
    broke = [y - s for y, s in zip(offset_mm, start_mm, strict=True)]
    k_mm = math.fsum(b * g for b, g in zip(broke, shape, strict=True)) / math.fsum(g * g for g in shape)
    start_mean = math.fsum(start_mm) / len(alike)
    shape_mean = math.fsum(shape) / len(alike)
    read_mm = start_mean + k_mm * shape_mean
    usual_mm = _takes_mm(alike[0], math.fsum(run_m) / len(alike), None)
    out = []
    for attempt, run, y, start, g in zip(alike, run_m, offset_mm, start_mm, shape, strict=True):
        line_mm, pace_mm = start - start_mean, k_mm * (g - shape_mean)
        rest_mm = y - line_mm - pace_mm - read_mm
        takes_mm = _takes_mm(attempt, run, attempt.putt.speed_at_hole_m_s.value)
        mended = {
            "start line": abs(y - line_mm) < takes_mm,
            "pace": abs(y - pace_mm) < usual_mm,
            "read": abs(y - read_mm) < takes_mm,
            "the rest": abs(y - rest_mm) < takes_mm,
        }
        sizes = dict(zip(CAUSES, (line_mm, pace_mm, read_mm, rest_mm), strict=True))
        out.append(
            Parts(
                session=attempt.session,
                number=attempt.putt.number,
                holed=bool(attempt.holed),
                offset_mm=y,
                line_mm=line_mm,
                pace_mm=pace_mm,
                read_mm=read_mm,
                rest_mm=rest_mm,
                takes_mm=takes_mm,
                takes_usually_mm=usual_mm,
                cause=None if attempt.holed else _cause(y, sizes, mended),
            )
        )
    return out


def _takes_mm(attempt: Attempt, run_out_m: float, speed_m_s: float | None) -> float:
    if speed_m_s is None:
        speed_m_s = math.sqrt(2 * deceleration_from_stimp(attempt.stimp_ft or USUAL_STIMP_FT) * run_out_m)
    return 1000 * capture_offset(speed_m_s)


def _cause(offset_mm: float, sizes: dict[Cause, float], mended: dict[str, bool]) -> Cause:
    """What alone would have holed it; the largest of several; else the largest part towards its side."""
    towards = {cause: size * math.copysign(1, offset_mm) for cause, size in sizes.items()}
    would = [cause for cause in CAUSES if mended[cause]]
    if would == ["pace"]:
        return "pace"
    return max(would or CAUSES, key=lambda cause: towards[cause])


def why(parts: Parts) -> str:
    """A putt's miss in words: ``start line: 62 mm right of its usual line, of 80 mm``."""
    side = "right" if parts.offset_mm > 0 else "left"
    cause = parts.cause
    if cause is None:
        return "holed"
    share_mm = parts.part(cause)
    if cause == "pace" and abs(parts.offset_mm) < parts.takes_usually_mm:
        return f"pace: {abs(parts.offset_mm):.0f} mm {side}, too firm for the hole to take there"
    of_this = f"{abs(share_mm):.0f} mm of {abs(parts.offset_mm):.0f} mm {side}"
    if abs(share_mm) > abs(parts.offset_mm):  # the other causes took some of it back
        of_this = f"{abs(share_mm):.0f} mm {side}, {abs(parts.offset_mm):.0f} mm in all,"
    match cause:
        case "start line":
            return f"start line: {of_this} by starting off its usual line"
        case "pace":
            return f"pace: {of_this} by breaking {'more' if _breaks_more(parts) else 'less'} than usual"
        case "read":
            return f"read: {of_this} were in the line chosen for this pace"
        case "the rest":
            return f"not told: {of_this} lie in bumps of the green or in the film's own error"


def _breaks_more(parts: Parts) -> bool:
    return parts.takes_mm > parts.takes_usually_mm
