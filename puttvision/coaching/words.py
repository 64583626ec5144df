"""Groups of putts, causes of misses and streaks in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from puttvision.coaching.attempts import Attempt, by
from puttvision.coaching.causes import CAUSES, FEWEST, Cause, Explained, Shares, why
from puttvision.coaching.intervals import Estimate, PlayerSpread, TooFew
from puttvision.coaching.long_run import LongRun
from puttvision.coaching.shown import number, percent, whole, with_interval
from puttvision.coaching.streaks import Streaks
from puttvision.coaching.summary import summary


def group_lines(key: str, all_: Sequence[Attempt]) -> list[str]:
    """The figures told apart by a key of `attempts.KEYS`, one line each."""
    out = [f"by {key}:"]
    for name, mine in by(key, all_).items():
        one = summary(mine)
        said = [f"{one.n} putts"]
        if isinstance(one.holed, Estimate):
            said.append(f"holed {percent(one.holed)}")
        if isinstance(one.through, Estimate):
            said.append(f"through the gate {percent(one.through)}")
        if isinstance(one.line_bias_deg, Estimate):
            said.append(f"mean start line {with_interval(one.line_bias_deg, 2, sign=True)} °, right is +")
        if isinstance(one.line_spread_deg, PlayerSpread):
            said.append(f"spread {with_interval(one.line_spread_deg.player, 2)} °")
        if isinstance(one.run_out_m, Estimate):
            said.append(f"run-out {with_interval(one.run_out_m.times(100))} cm")
        out.append(f"    {name}: " + ", ".join(said))
    if key not in ("distance", "drill") and len(out) > 2 and len(by("distance", all_)) > 1:
        out.append("    (from several distances, not equally many in each: --drill NAME tells them apart)")
    return out if len(out) > 1 else [f"by {key}: nothing is known of it"]


AT_GATE = "start line: it met a post of the gate"


def named(cause: Cause) -> str:
    """What a cause is called in a sentence."""
    return "bumps or the film's own error" if cause == "the rest" else cause


def carried_off(shares: Shares) -> str:
    """What carried putts off the hole's middle; shares add up to 100 %, with those that worked against it."""
    each = list(zip(CAUSES, whole([100 * part for part in shares.all]), strict=True))
    off = ", ".join(f"{named(cause)} {part} %" for cause, part in each if part > 0)
    back = " and ".join(f"{named(cause)} took {-part} % back" for cause, part in each if part < 0)
    told = f"what carried putts off the hole's middle ({shares.n} putts, holed ones too): {off}"
    return f"{told}; {back}" if back else told


def cause_lines(found: Explained, missed: int, usual: LongRun | None = None) -> list[str]:
    """Why each of the ``missed`` putts did; ``usual``: what this stroke does in the long run."""
    n = sum(found.causes.values())
    if not n and not found.parts:
        if not missed:
            return ["misses of this session: none seen"]
        return [
            f"misses of this session: {missed}; why is not told: it takes {FEWEST} putts from one spot, each "
            "with start line, pace and where it passed the hole"
        ]
    n_untold = missed - n
    counts = ", ".join(f"{number} by {named(cause)}" for cause, number in found.causes.items() if number)
    if n_untold:
        counts += f", {n_untold} not told" if n else "why is not told"
    out = [f"misses of this session: {missed}" + (f" ({counts})" if counts else "")]
    if found.shares:
        out.append(f"    {carried_off(found.shares)}")
    if usual is not None:
        out.append(f"    with this stroke, {usual.says}")
    out += [f"    putt {one.number}: {why(one)}" for one in found.parts if not one.holed]
    out += [f"    putt {number}: pace: stopped short" for _, number in found.short]
    out += [f"    putt {number}: {AT_GATE}" for _, number in found.at_gate]
    return out


def streak_lines(found: Streaks | TooFew, putts: int) -> list[str]:
    """Streaks against what the make rate alone would give; ``putts``: those there are in all."""
    if not found:
        if found.n == 0 and putts:
            return ["streaks: not told, each session has putts from several distances"]
        return ["streaks: too few putts to say"]
    low, high = found.longest_by_chance
    out = [
        f"longest streak: {found.longest}; the make rate alone would give {low} to {high} ({found.n} putts)"
    ]
    if found.verdict and found.near_the_end and found.by_chance is not None and found.p_near is not None:
        near = found.near_the_end
        out.append(
            f"last putts of a streak: {found.verdict}; {number(100 * near.value)} % of {near.n} made, "
            f"{number(100 * found.by_chance)} % by the make rate alone (p = {found.p_near:.2g})"
        )
    elif found.verdict:
        out.append(f"last putts of a streak: {found.verdict}")
    return out
