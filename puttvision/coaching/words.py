"""Causes of misses and streaks in sentences."""

from __future__ import annotations

from puttvision.coaching.causes import CAUSES, Explained, why
from puttvision.coaching.intervals import TooFew
from puttvision.coaching.streaks import Streaks


def cause_lines(found: Explained) -> list[str]:
    """Where the misses came from, and why each did."""
    n = sum(found.causes.values())
    if not n and not found.parts:
        return (
            [f"why putts missed: not told, {found.left_out} putts lack a measure"] if found.left_out else []
        )
    counts = ", ".join(f"{number} {cause}" for cause, number in found.causes.items() if number)
    out = [f"misses of this session: {n} told" + (f": {counts}" if counts else "")]
    if found.shares:
        each = ", ".join(
            f"{cause} {100 * part:.0f} %" for cause, part in zip(CAUSES, found.shares.all, strict=True)
        )
        out.append(f"    of the squared offset at the hole ({found.shares.n} putts): {each}")
    out += [f"    putt {one.number}: {why(one)}" for one in found.parts if not one.holed]
    out += [f"    putt {number}: pace: stopped short" for _, number in found.short]
    return out


def streak_lines(found: Streaks | TooFew) -> list[str]:
    """Streaks against what the make rate alone would give."""
    if not found:
        return ["streaks: too few putts to say"]
    low, high = found.longest_by_chance
    out = [
        f"longest streak: {found.longest}; the make rate alone would give {low} to {high} ({found.n} putts)"
    ]
    if found.verdict and found.near_the_end and found.by_chance is not None and found.p_near is not None:
        near = found.near_the_end
        out.append(
            f"last putts of a streak: {found.verdict}; {100 * near.value:.0f} % of {near.n} made, "
            f"{100 * found.by_chance:.0f} % by the make rate alone (p = {found.p_near:.2g})"
        )
    elif found.verdict:
        out.append(f"last putts of a streak: {found.verdict}")
    return out
