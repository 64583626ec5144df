"""A drill's rules in words, for `puttvision drills show` and for printed cards."""

from __future__ import annotations

import math
from itertools import groupby

from puttvision.drill.rules import BOTH_HANDS, HOLED, Award, Condition, Consequence, Rules, Stage, Turn
from puttvision.drill.tally import points_text
from puttvision.drill.words import count, manner, minutes, place, points, several

_THEN: dict[Consequence, str] = {
    "count back": "the count starts again from nothing",
    "count one back": "one comes off the count",
    "stage back": "back a stage",
    "start again": "back to the beginning",
    "end": "the drill is over",
    "nothing": "play goes on",
}


def describe(rules: Rules) -> list[str]:
    """The rules in force, one sentence a line."""
    lines = _players(rules)
    for number, stage in enumerate(rules.stages, start=1):
        head = f"Stage {number}: " if len(rules.stages) > 1 else ""
        texts = _stage(rules, stage)
        lines.append(head + texts[0][0].upper() + texts[0][1:])
        lines += [("  " if head else "") + text[0].upper() + text[1:] for text in texts[1:]]
    awards = {stage.awards for stage in rules.stages if stage.awards}
    if len(awards) == 1:
        lines += _points(awards.pop())
    if rules.lowest_points is not None:
        lines.append(f"The points never fall below {points_text(rules.lowest_points)}.")
    return lines + _limits(rules)


def condition_text(condition: Condition) -> str:
    """``holed, through the gate``; ``0 to 45 cm past the hole``."""
    texts: list[str] = list(condition.words)
    if condition.run_out_m:
        low, high = (100 * value for value in condition.run_out_m)
        texts.append(_window(low, high, "cm past the hole"))
    if condition.leave_m:
        low, high = (100 * value for value in condition.leave_m)
        texts.append(_window(low, high, "cm from the hole"))
    if condition.start_line_deg:
        texts.append(_window(*condition.start_line_deg, "degrees off the start line"))
    if condition.putts_taken:
        low_n, high_n = condition.putts_taken
        texts.append(f"in {several(low_n, 'putt')}" if low_n == high_n else f"in {low_n} to {high_n} putts")
    return ", ".join(texts)


def _window(low: float, high: float, unit: str) -> str:
    if math.isinf(low):
        return f"at most {high:g} {unit}"
    if math.isinf(high):
        return f"{low:g} {unit} or more"
    return f"{low:g} to {high:g} {unit}" if low or "past" in unit else f"at most {high:g} {unit}"


def _players(rules: Rules) -> list[str]:
    two = rules.two_players
    if two is None:
        return []
    if two.compare == "each hole":
        how = "both play the same putt, the better one wins the hole"
        how += "; level after the last hole, it goes on" if two.level == "go on" else ""
    else:
        how = "each plays the whole drill, putting by turns"
    return [f"Two players, {two.names[0]} and {two.names[1]}: {how}."]


def _stage(rules: Rules, stage: Stage) -> list[str]:
    where = place(stage.usual)
    texts = [
        f"{stage.title + ': ' if stage.title else ''}{where + ', ' if where else ''}{_goal(rules, stage)}."
    ]
    how = manner(stage.usual).removeprefix(BOTH_HANDS).removeprefix(", ")
    if how:
        texts.append(f"{how}.")
    texts += [_turn(turn) for turn in stage.turns]
    if stage.made_when != HOLED:
        texts.append(f"A putt counts as made when it is {_any(stage.made_when)}.")
    if stage.play_out:
        within = several(stage.holed_within, "putt")
        texts.append(f"Each ball is played until it is holed ({within} or fewer count as made);")
        texts[-1] += f" it is picked up after {several(stage.pick_up_after, 'putt')}."
    fault = _fault(rules, stage)
    texts += [fault] if fault else []
    for one in stage.faults:
        texts.append(f"{_forfeit(condition_text(one.when) + ': ' + _THEN[one.then], one.forfeit)}.")
    return texts


def _goal(rules: Rules, stage: Stage) -> str:
    unit = "ball" if stage.play_out else "putt"
    if stage.make is not None:
        if stage.misses_allowed is None:
            return f"make {count(stage.make)}, however many putts it takes"
        if stage.misses_allowed == 0:
            in_a_row = stage.make > 1 and stage.on_fault != "count one back"
            return f"make {count(stage.make)}{' in a row' if in_a_row else ''}"
        allowed = "miss" if stage.misses_allowed == 1 else "misses"
        return f"make {count(stage.make)}, {count(stage.misses_allowed)} {allowed} allowed"
    if stage.putts is not None:
        goal = several(stage.putts, "hole" if rules.two_players else unit)
        if stage.made_needed:
            goal += f", at least {count(stage.made_needed)} made"
        if stage.points_needed is not None:
            goal += f", at least {points(stage.points_needed)}"
        return goal
    if stage.points_to is not None:
        return f"get to {points(stage.points_to)}"
    return f"as many as you can in {minutes(rules.clock.limit_s or 0)}"


def _fault(rules: Rules, stage: Stage) -> str:
    if stage.on_fault is None:
        return ""
    if stage.putts is not None:
        cause = "too few at the end"
    elif not stage.misses_allowed:
        cause = "a miss"
    else:
        cause = "one miss more"
    then = _THEN[stage.on_fault]
    if stage.on_fault == "end" and rules.series:
        then = "the round is lost"
    if stage.on_fault == "stage back" and stage is rules.stages[0]:
        then = _THEN["count back"]
    return f"{_forfeit(f'{cause}: {then}', stage.forfeit)}."


def _forfeit(text: str, forfeit: str) -> str:
    return f"{text}; forfeit: {forfeit}" if forfeit else text


def _turn(turn: Turn) -> str:
    unit = {"distance_ft": " ft", "distance_m": " m", "gate_mm": " mm wide"}.get(turn.of, "")
    of = {"distance_ft": "distance", "distance_m": "distance", "gate_mm": "gate", "from": "place"}
    if turn.random:
        values = ", ".join(_value(value) for value in turn.each)
        return f"{of.get(turn.of, turn.of)} drawn by chance from {values}{unit}."
    same = len(set(turn.putts)) == 1
    runs = [
        f"{_value(v)}{unit}" + ("" if same else f" for {n}")
        for v, n in zip(turn.each, turn.putts, strict=True)
    ]
    block = f", {count(turn.putts[0])} putts each" if same and turn.putts[0] > 1 else ""
    follows = "; the next one only after a made putt" if turn.follows == "count" else ""
    if turn.follows == "count" and (not same or turn.putts[0] > 1):
        follows = "; counted by putts made in the present count"
    return f"{of.get(turn.of, turn.of)} by turns: {', '.join(runs)}{block}{follows}."


def _value(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _any(conditions: tuple[Condition, ...]) -> str:
    return " or ".join(condition_text(condition) for condition in conditions)


def _points(awards: tuple[Award, ...]) -> list[str]:
    """The first line that fits a putt counts; equal points in a row are told together."""
    lines = []
    for _, run in groupby(awards, key=lambda award: (award.points, award.points_strict)):
        together = list(run)
        first = together[0]
        strict = "" if first.points_strict is None else f" ({points(first.points_strict)} with --strict)"
        when = " or ".join(condition_text(award.when) for award in together)
        lines.append(f"{points(first.points)} for: {when}{strict}.")
    if len(awards) > 1:
        lines.append("The first of these that fits counts; anything else gives nothing.")
    return lines


def _limits(rules: Rules) -> list[str]:
    lines = []
    if rules.series:
        series = rules.series
        how = (
            f"win {series.win} of them"
            if series.result == "rounds won"
            else {"best round": "the best one counts", "all rounds": "all count together"}[series.result]
        )
        lines.append(f"{several(series.rounds, 'round')}: {how}.")
    if rules.attempts is not None:
        lines.append(f"The drill may be begun {several(rules.attempts, 'time')}.")
    if rules.most_putts is not None:
        lines.append(f"{several(rules.most_putts, 'putt')} at most.")
    if rules.clock.beat_s is not None:
        lines.append(f"The clock runs: under {minutes(rules.clock.beat_s)} is the mark to beat.")
    if rules.clock.limit_s is not None:
        lines.append(f"It ends after {minutes(rules.clock.limit_s)}.")
    if rules.stake:
        lines.append(f"At stake: {rules.stake}.")
    return lines
