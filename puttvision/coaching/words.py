"""Groups of putts, causes of misses and streaks in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from puttvision.coaching.attempts import Attempt, by
from puttvision.coaching.causes import CAUSES, Explained, why
from puttvision.coaching.intervals import Estimate, PlayerSpread, TooFew
from puttvision.coaching.long_run import LongRun
from puttvision.coaching.streaks import Streaks
from puttvision.coaching.summary import summary


def group_lines(key: str, all_: Sequence[Attempt]) -> list[str]:
    """The figures told apart by a key of `attempts.KEYS`, one line each."""
    out = [f"by {key}:"]
    for name, mine in by(key, all_).items():
        one = summary(mine)
        said = [f"{one.n} putts"]
        if isinstance(one.holed, Estimate):
            said.append(f"holed {_percent(one.holed)}")
        if isinstance(one.through, Estimate):
            said.append(f"through the gate {_percent(one.through)}")
        if isinstance(one.line_bias_deg, Estimate):
            mean = one.line_bias_deg
            said.append(f"mean start line {mean.value:+.2f}° ({mean.low:+.2f} to {mean.high:+.2f})")
        if isinstance(one.line_spread_deg, PlayerSpread):
            own = one.line_spread_deg.player
            said.append(f"spread {own.value:.2f}° ({own.low:.2f} to {own.high:.2f})")
        if isinstance(one.run_out_m, Estimate):
            run = one.run_out_m.times(100)
            said.append(f"run-out {run.value:.0f} cm ({run.low:.0f} to {run.high:.0f})")
        out.append(f"    {name}: " + ", ".join(said))
    return out if len(out) > 1 else [f"by {key}: nothing is known of it"]


def _percent(share: Estimate) -> str:
    return f"{100 * share.value:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f})"


def cause_lines(found: Explained, usual: LongRun | None = None) -> list[str]:
    """Where the misses came from, and why each did; ``usual``: what this stroke does in the long run."""
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
    if usual is not None:
        out.append(f"    with this stroke, {usual.says}")
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
