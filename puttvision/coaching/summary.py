"""What a set of putts says: start line, pace, gate, make rate, each with its interval and its count."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from puttvision.coaching.attempts import Attempt, distance_band
from puttvision.coaching.intervals import (
    Estimate,
    PlayerSpread,
    TooFew,
    bias,
    player_spread,
    rate,
)
from puttvision.putts import Figure

WINDOW_M = (0.0, 0.45)
"""Run-out that counts as good pace where the coach asks for no other: to the hole or up to a putter grip's
length past it. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """Figures of one set of putts; degrees and metres, right and past the hole positive."""

    n: int
    """Putts in all."""
    n_sessions: int
    holed: Estimate | TooFew
    through: Estimate | TooFew
    """Through the ball gate."""
    line_bias_deg: Estimate | TooFew
    line_spread_deg: PlayerSpread | TooFew
    """About each session's own mean."""
    run_out_m: Estimate | TooFew
    run_out_spread_m: PlayerSpread | TooFew
    in_window: Estimate | TooFew
    length_spread: PlayerSpread | TooFew
    """Spread of the length rolled as a share of it, about each session's and distance's own mean."""


def summary(attempts: Sequence[Attempt], window_m: tuple[float, float] = WINDOW_M) -> Summary:
    """The figures of a set of putts; a putt that lacks a measure is left out of that figure alone."""
    return Summary(
        n=len(attempts),
        n_sessions=len({attempt.session for attempt in attempts}),
        holed=share(attempt.holed for attempt in attempts),
        through=share(attempt.through for attempt in attempts),
        line_bias_deg=line_bias(attempts),
        line_spread_deg=line_spread(attempts),
        run_out_m=mean_run_out(attempts),
        run_out_spread_m=_spread(attempts, [attempt.putt.run_out_m for attempt in attempts]),
        in_window=in_window(attempts, window_m),
        length_spread=length_spread(attempts),
    )


def share(answers: Iterable[bool | None]) -> Estimate | TooFew:
    """Share of yes among the answers that are known, with Wilson's interval."""
    known = [answer for answer in answers if answer is not None]
    return rate(sum(known), len(known))


def line_bias(attempts: Sequence[Attempt]) -> Estimate | TooFew:
    """Mean start direction. What a clip's putts may be off by together is in the interval: their mean u95,
    all of it taken as shared within a clip and as independent from clip to clip."""
    with_line = [attempt for attempt in attempts if attempt.start_line]
    return bias(
        _values(a.start_line for a in with_line),
        shared_u95(with_line, [a.start_line for a in with_line]),
        [a.session for a in with_line],
    )


def line_spread(attempts: Sequence[Attempt]) -> PlayerSpread | TooFew:
    """The player's spread of start direction about each session's mean; the measurement's noise taken out."""
    return _spread(attempts, [attempt.start_line for attempt in attempts])


def mean_run_out(attempts: Sequence[Attempt]) -> Estimate | TooFew:
    """Mean run-out; holed putts as they would have rolled over a covered hole."""
    measured = [attempt for attempt in attempts if attempt.putt.run_out_m]
    figures = [attempt.putt.run_out_m for attempt in measured]
    return bias(_values(figures), shared_u95(measured, figures), [a.session for a in measured])


def in_window(attempts: Sequence[Attempt], window_m: tuple[float, float]) -> Estimate | TooFew:
    """Share of putts whose run-out lies in the window, ends included."""
    low, high = window_m
    return share(low <= value <= high for value in _values(a.putt.run_out_m for a in attempts))


def length_spread(attempts: Sequence[Attempt]) -> PlayerSpread | TooFew:
    """Spread of the length rolled, as a share of the mean length of like putts (`stroke.py`'s pace spread).

    Length is hole distance plus run-out; like putts are those of a session from one distance band.
    """
    lengths: dict[tuple[int, int], list[tuple[float, float]]] = {}
    for attempt in attempts:
        run_out, distance_m = attempt.putt.run_out_m, attempt.distance_m
        if run_out.value is None or distance_m is None:
            continue
        group = (attempt.session, distance_band(distance_m))
        lengths.setdefault(group, []).append((distance_m + run_out.value, run_out.u95 or 0.0))
    values, u95, groups = [], [], []
    for group, rows in lengths.items():
        mean = math.fsum(length for length, _ in rows) / len(rows)
        if mean <= 0:
            continue
        values += [length / mean for length, _ in rows]
        u95 += [u / mean for _, u in rows]
        groups += [group] * len(rows)
    if not values:
        return TooFew(n=0, needed=2)
    return player_spread(values, u95, groups)


def _spread(attempts: Sequence[Attempt], figures: Sequence[Figure]) -> PlayerSpread | TooFew:
    pairs = [
        (a.session, f.value, f.u95) for a, f in zip(attempts, figures, strict=True) if f.value is not None
    ]
    if not pairs:
        return TooFew(n=0, needed=2)
    groups, values, u95 = zip(*pairs, strict=True)
    return player_spread(values, u95, groups)


def _values(figures: Iterable[Figure]) -> list[float]:
    return [figure.value for figure in figures if figure.value is not None]


def shared_u95(attempts: Sequence[Attempt], figures: Sequence[Figure]) -> float:
    """Half-width of what the mean may be off by together; 0 where no u95 is known."""
    known = [figure.u95 for figure in figures if figure.u95 is not None]
    if not known:
        return 0.0
    return math.fsum(known) / len(known) / math.sqrt(len({attempt.session for attempt in attempts}))
