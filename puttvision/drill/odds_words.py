"""Odds in plain sentences and as JSON; every figure is computed from the `Odds`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from puttvision.drill.chances import EVERY, Player, distances
from puttvision.drill.odds import Odds
from puttvision.drill.rules import Rules
from puttvision.drill.stroke import Stroke, make_chance
from puttvision.drill.words import minutes, several
from puttvision.physics import FOOT_M

ROUND_NUMBERS = (10, 20, 50, 100, 200, 500, 1000)
STEPS = tuple(digit * 10**power for power in range(15) for digit in (1, 2, 5))
FEET_TOLD = range(3, 11)
NEVER, ALWAYS = 0.0005, 0.9995
BEYOND_PATIENCE = 1e6
"""Putts nobody makes in a lifetime of practice at one drill."""


# --- the numbers of putts to tell -------------------------------------------------------------


def putts_to_tell(odds: Odds, also: Sequence[int] = (), rows: int = 20) -> list[int]:
    """Numbers of putts for a table or plot: even steps until nearly everyone has finished, and ``also``."""
    last = odds.putts_for(0.99)
    if last is None:
        reached = odds.chance_to_finish or 0.0
        last = odds.putts_for(0.99 * reached) if reached > NEVER else None
    if last is None or last > BEYOND_PATIENCE:
        return sorted({*ROUND_NUMBERS, *also})
    step = next(step for step in STEPS if step * rows >= last)
    return sorted({*range(step, last + step, step), *also})


# --- sentences -------------------------------------------------------------------------------


def times(chance: float) -> str:
    """A chance as a person says it: ``about 4 times in 10``, ``about 1 time in 30``."""
    if math.isnan(chance):
        return "with a chance that is not known"
    if chance < NEVER:
        return "practically never"
    if chance > ALWAYS:
        return "practically always"
    if chance < 0.045:
        return f"about 1 time in {_two_digits(1 / chance)}"
    tenths = round(10 * chance)
    if 1 <= tenths <= 9 and abs(chance - tenths / 10) < 0.02:
        return f"about {tenths} {'time' if tenths == 1 else 'times'} in 10"
    if chance > 0.985:
        return f"about {round(1000 * chance)} times in 1000"
    return f"about {round(100 * chance)} times in 100"


def _two_digits(value: float) -> int:
    power = max(math.floor(math.log10(value)) - 1, 0)
    return int(round(value / 10**power) * 10**power)


def number(value: float) -> str:
    """A number of putts or points as a person writes it: three digits are enough."""
    if value >= 1e6:
        return f"{value:.1e}".replace("e+0", " x 10^").replace("e+", " x 10^")
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def share(value: float) -> str:
    """``98 %``; more digits where three would make it certain."""
    text = f"{100 * value:.3g}"
    return f"{100 * value:.6g} %" if text == "100" and value < 1 else f"{text} %"


def stroke_words(stroke: Stroke) -> str:
    """``a start line that scatters 1.2 degrees and a pace that scatters 8 %``."""
    text = f"a start line that scatters {stroke.start_spread_deg:.3g} degrees"
    if stroke.start_bias_deg:
        side = "right" if stroke.start_bias_deg > 0 else "left"
        text += f" about one {abs(stroke.start_bias_deg):.3g} degrees {side}"
    return text + (f" and a pace that scatters {share(stroke.pace_spread)}" if stroke.pace_spread else "")


def player_words(rules: Rules, player: Player) -> str:
    """``At 98 % from 3 ft``; ``At 70 % from 9 ft and 90 % from 6 ft``."""
    texts = []
    far = distances(rules)
    for key, chance in player.make:
        if key == EVERY:
            rest = (
                "otherwise" if len(player.make) > 1 else f"from {far[0]}" if len(far) == 1 else "every putt"
            )
            texts.append(f"{share(chance)} {rest}")
        elif key.isdecimal() and int(key) <= len(rules.stages):
            distance = rules.stages[int(key) - 1].distance
            texts.append(f"{share(chance)} {f'from {distance}' if distance else f'in stage {key}'}")
        else:
            is_place = key in {str(distance) for distance in far}
            texts.append(f"{share(chance)} {'from' if is_place else 'for'} {key}")
    heads = [f"at {_and(texts)}"] if texts else []
    if player.gate is not None and rules.uses_gate:
        heads.append(f"{'' if texts else 'at '}{share(player.gate)} through the gate")
    if player.stroke:
        heads.append(f"with {stroke_words(player.stroke)}")
    text = ", ".join(heads) or "as a tour player putts"
    return text[0].upper() + text[1:]


def _and(texts: Sequence[str]) -> str:
    return " and ".join([", ".join(texts[:-1]), texts[-1]] if len(texts) > 1 else texts)


def drill_words(rules: Rules) -> str:
    """``a streak of 50``; else the drill's name."""
    stage = rules.stages[0]
    plain = len(rules.stages) == 1 and not rules.series and not rules.two_players and not rules.attempts
    if plain and stage.make and stage.misses_allowed == 0 and stage.on_fault == "count back":
        return f"a streak of {stage.make}"
    return rules.name


def sentences(odds: Odds, within: Sequence[int] = (), minutes_: float | None = None) -> list[str]:
    """What the odds say, a sentence each; ``within``: numbers of putts, ``minutes_``: a time asked for."""
    head = f"{player_words(odds.rules, odds.player)}, {drill_words(odds.rules)}"
    lines = [f"{head} {_length(odds)}."]
    if not odds.is_fixed or within:
        lines += _within(odds, within, minutes_)
    if odds.wins:
        lines.append(_wins(odds))
    if odds.chance_to_finish is not None and 0 < odds.chance_to_finish < ALWAYS and not odds.wins:
        lines.append(f"It is finished {times(odds.chance_to_finish)}; else it ends without.")
    if odds.restarts and odds.expected_restarts is not None:
        lines.append(
            f"It begins again {number(odds.expected_restarts)} times on average, "
            f"and not once {times(odds.restarts[0])}."
        )
    if odds.expected_points is not None:
        lines.append(_points(odds))
    return lines


def _length(odds: Odds) -> str:
    mean = odds.expected_putts
    if mean is None:
        if odds.n_runs:
            return "is too long for a mean number of putts to be found"
        return "has no mean number of putts" if odds.chance_to_finish else "does not come to an end"
    if odds.is_fixed:
        return f"is {several(round(mean), 'putt')}{_clock(odds, mean)}"
    if mean > BEYOND_PATIENCE:
        return f"takes about {number(mean)} putts on average: it is out of reach"
    text = f"takes about {number(mean)} putts on average{_clock(odds, mean)}"
    half = odds.putts_for(0.5)
    return text + (f"; half of all goes are finished within {half}" if half is not None else "")


def _clock(odds: Odds, n_putts: float) -> str:
    if odds.seconds_per_putt is None:
        return ""
    time = minutes(60 * round(n_putts * odds.seconds_per_putt / 60))
    return f", {time} at {odds.seconds_per_putt:g} s a putt"


def _within(odds: Odds, within: Sequence[int], minutes_: float | None) -> list[str]:
    lines = []
    done = "it is over" if odds.wins else "you finish"
    if odds.seconds_per_putt is not None:
        beat_s = odds.rules.clock.beat_s
        asked = [minutes_] if minutes_ is not None else [beat_s / 60] if beat_s else []
        for time in asked:
            n = odds.putts_in(time)
            lines.append(
                f"Within {minutes(60 * time)} ({several(n, 'putt')}) {done} {times(odds.chance_within(n))}."
            )
    lines += [f"Within {several(n, 'putt')} {done} {times(odds.chance_within(n))}." for n in within]
    return lines


def _wins(odds: Odds) -> str:
    two, wins = odds.rules.two_players, odds.wins
    if two is None or wins is None:
        return ""
    text = f"{two.names[0]} wins {times(wins[0])}, {two.names[1]} {times(wins[1])}"
    return text + (f"; it is halved {times(wins[2])}." if wins[2] > NEVER else ".")


def _points(odds: Odds) -> str:
    text = f"It gives {_points_number(odds.expected_points or 0.0)} points on average"
    if not odds.sd_points or odds.sd_points < 1e-6:
        return text + "."
    text += f", give or take {_points_number(odds.sd_points)} (standard deviation)"
    good = odds.points_reached(1 / 3)
    return text + (f"; you reach {good:g} or more 1 time in 3." if good is not None else ".")


def _points_number(value: float) -> str:
    return f"{value:.1f}"


def make_by_feet(stroke: Stroke) -> dict[str, float]:
    """Make chances of a stroke by whole feet, `FEET_TOLD`."""
    return {str(feet): float(f"{make_chance(stroke, feet * FOOT_M):.10g}") for feet in FEET_TOLD}


def make_lines(stroke: Stroke) -> list[str]:
    """Make chances of a stroke from 3 to 10 ft."""
    rows = [f"{feet} ft {share(round(chance, 3))}" for feet, chance in make_by_feet(stroke).items()]
    return [f"With {stroke_words(stroke)} it holes: {', '.join(rows)}."]


# --- JSON ------------------------------------------------------------------------------------


def to_json(odds: Odds, within: Sequence[int] = (), minutes_: float | None = None) -> dict[str, Any]:
    """The JSON object of ``puttvision odds``; a number that does not exist or is not known is null."""
    told = putts_to_tell(odds, (*ROUND_NUMBERS, *within))
    out: dict[str, Any] = {
        "drill": odds.rules.name,
        "method": odds.method,
        "expected_putts": _rounded(odds.expected_putts),
        "sd_putts": _rounded(odds.sd_putts),
        "chance_within": {str(n): _rounded(odds.chance_within(n)) for n in told},
        "putts_for_half": odds.putts_for(0.5),
        "chance_to_finish": _rounded(odds.chance_to_finish),
    }
    if odds.rules.gives_points and not odds.rules.two_players:
        out["expected_points"] = _rounded(odds.expected_points)
        out["sd_points"] = _rounded(odds.sd_points)
        out["chance_of_points"] = {f"{total:g}": _rounded(chance) for total, chance in odds.points}
    if odds.expected_restarts is not None:
        out["expected_restarts"] = _rounded(odds.expected_restarts)
        out["chance_of_restarts"] = {str(k): _rounded(chance) for k, chance in enumerate(odds.restarts)}
    if odds.wins and odds.rules.two_players:
        names = (*odds.rules.two_players.names, "halved")
        out["chance_to_win"] = dict(zip(names, map(_rounded, odds.wins), strict=True))
    if odds.seconds_per_putt is not None:
        out["seconds_per_putt"] = odds.seconds_per_putt
        if odds.expected_putts is not None:
            out["expected_minutes"] = _rounded(odds.expected_putts * odds.seconds_per_putt / 60)
        if minutes_ is not None:
            n = odds.putts_in(minutes_)
            out["within_minutes"] = {
                "minutes": minutes_, "putts": n, "chance": _rounded(odds.chance_within(n)),
            }  # fmt: skip
    if odds.n_runs:
        out["runs"] = odds.n_runs
        out["standard_error"] = {key: _rounded(value) for key, value in odds.u.items()}
        out["standard_error"]["chance_within"] = {
            str(n): _rounded(odds.u_chance(odds.chance_within(n))) for n in told
        }
    if odds.player.stroke:
        out["make_by_feet"] = make_by_feet(odds.player.stroke)
    out["says"] = sentences(odds, within, minutes_)
    out["notes"] = list(odds.notes)
    return out


def _rounded(value: float | None) -> float | None:
    """Ten digits: what lies beyond is rounding, and a whole number of putts comes out whole."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.10g}")


def standing(odds: Odds) -> str:
    """The line of a simulation's doubt, or that the figures are exact."""
    if not odds.n_runs:
        return "exact: worked out from every state of the drill"
    errors = [
        f"{number(odds.u[key])} {unit}"
        for key, unit in (("expected_putts", "putts"), ("expected_points", "points"))
        if odds.u.get(key)
    ]
    half = odds.u_chance(0.5) or 0.0
    errors.append(f"at most {100 * half:.2g} % of a chance")
    return f"standard error {_and(errors)}"
