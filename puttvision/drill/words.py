"""What the engine says: what comes next, what just happened, how it ended. Plain golf words."""

from __future__ import annotations

from puttvision.drill import play
from puttvision.drill.engine import Step
from puttvision.drill.match import MatchState
from puttvision.drill.play import AnyState
from puttvision.drill.rules import Rules, Setting, Stage
from puttvision.drill.tally import Line, Totals, points_text

_SMALL = (
    "none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
)  # fmt: skip


def count(number: int) -> str:
    """A count in words up to twelve."""
    return _SMALL[number] if 0 <= number < len(_SMALL) else str(number)


def several(number: int, one: str, many: str = "") -> str:
    """``1 putt``, ``2 putts``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def points(hundredths: int) -> str:
    """``1 point``, ``0.5 points``."""
    return f"{points_text(hundredths)} {'point' if abs(hundredths) == 100 else 'points'}"


def minutes(seconds: float) -> str:
    """``17 min 40 s``."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    rest = f" {whole % 60} s" if whole % 60 else "utes" if whole > 60 else "ute"
    return f"{whole // 60} min{rest}"


# --- what just happened ----------------------------------------------------------------------


def what_happened(rules: Rules, line: Line) -> str:
    """What one counted putt did: ``missed: back to the beginning``."""
    result = line.step
    stage = rules.stages[result.stage]
    text = f"{_verdict(rules, stage, result)}{_effect(rules, stage, line)}"
    if result.forfeit:
        text += f"; forfeit: {result.forfeit}"
    return text


def _verdict(rules: Rules, stage: Stage, result: Step) -> str:
    if result.kind == "played on":
        return "not in yet"
    if stage.play_out:
        word = "in the hole" if result.holed else "picked up"
    elif result.good:
        word = "holed" if result.holed else "good"
    else:
        word = "holed, but no good" if result.holed else "missed"
    if rules.gives_points and result.points:
        word += f", {'+' if result.points > 0 else ''}{points(result.points)}"
    return word


def _effect(rules: Rules, stage: Stage, line: Line) -> str:
    result = line.step
    if rules.two_players:
        return "" if result.status == "running" else ": the match is over"
    if result.status == "finished":
        return ": drill finished"
    if result.status == "failed":
        return ": the drill is over"
    if result.round_over:
        return f": round {result.round_over}"
    if result.passed:
        return f": stage {result.stage + 1} passed, on to stage {result.stage + 2}"
    match result.fault:
        case "start again":
            return ": back to the beginning"
        case "stage back":
            return f": back to stage {max(result.stage, 1)}"
        case "count back":
            return ": back to none"
        case "count one back":
            return f": one off, {line.made} left"
        case _:
            return _standing(rules, stage, line)


def _standing(rules: Rules, stage: Stage, line: Line) -> str:
    if line.step.kind == "played on":
        return ""
    if rules.gives_points:
        best = rules.series is not None and rules.series.result == "best round"
        return f": {points_text(line.points)} {'in the best round so far' if best else 'in all'}"
    if stage.make is not None:
        return f": {line.made} of {stage.make}"
    return f": {line.made} of {line.tried}"


# --- what comes next -------------------------------------------------------------------------


def what_next(rules: Rules, position: AnyState, totals: tuple[Totals, ...]) -> str:
    """What comes next, of a drill that is running.

    ``stage 2 of 3: 6 ft, one of four played, make two more, one miss left; both hands``
    """
    state = play.to_play(position)
    side = position.to_play if isinstance(position, MatchState) else 0
    stage, mine, how = rules.stages[state.stage], totals[side], play.setting(rules, position)
    head = []
    if rules.two_players:
        head.append(f"{rules.two_players.names[side]} to putt")
    if rules.series:
        head.append(f"round {state.round + 1} of {rules.series.rounds}")
    if len(rules.stages) > 1:
        head.append(f"stage {state.stage + 1} of {len(rules.stages)}")
    parts = [place(how)] if place(how) else []
    parts += _to_do(rules, stage, mine, state.missed)
    if stage.play_out and state.taken:
        parts.append(f"{count(state.taken)} taken with this ball: play it from where it lies")
    if isinstance(position, MatchState) and rules.two_players and rules.two_players.compare == "each hole":
        n_holes = stage.putts or 0
        hole = f"hole {state.played + 1} of {n_holes}" if state.played < n_holes else "one more hole"
        parts = [text for text in (place(how), hole, _lead(rules, position)) if text]
    if rules.attempts is not None:
        left = rules.attempts - state.attempt
        parts.append("last attempt" if left == 1 else f"attempt {state.attempt + 1} of {rules.attempts}")
    if rules.most_putts is not None:
        parts.append(f"{several(rules.most_putts - state.putts, 'putt')} left")
    tail = "; " + manner(how) if manner(how) else ""
    lead_in = f"{', '.join(head)}: " if head else ""
    return f"{lead_in}{', '.join(parts)}{tail}"


def place(how: Setting) -> str:
    """Where from: ``6 ft from 3 o'clock, left to right, uphill``."""
    texts = [str(how.distance) if how.distance else "", f"from {how.from_}" if how.from_ else ""]
    where = " ".join(text for text in texts if text)
    return ", ".join(text for text in (where, how.side, how.slope) if text)


def manner(how: Setting) -> str:
    """With what: grip, ball, gate width."""
    texts = (how.grip, how.ball, f"gate {how.gate_mm:g} mm wide" if how.gate_mm else "")
    return ", ".join(text for text in texts if text)


def _to_do(rules: Rules, stage: Stage, mine: Totals, missed: int) -> list[str]:
    """What is left to do; ``missed``: misses of the present count."""
    unit = "ball" if stage.play_out else "putt"
    score = [f"{points(mine.points)} so far"] if rules.gives_points else []
    if stage.points_to is not None:
        return [*score, f"{points(stage.points_to)} to reach"]
    if stage.putts is not None:
        left = stage.putts - mine.tried
        needed = []
        if stage.made_needed:
            more = max(stage.made_needed - mine.made, 0)
            needed = [f"make {count(more)} more" if more else "enough made"]
        if stage.points_needed is not None:
            needed.append(f"{points(stage.points_needed)} needed")
        played = f"{count(mine.tried)} of {stage.putts} played"
        return [played, f"{several(left, unit)} to go", *needed, *score]
    if stage.make is None:
        return [f"{count(mine.made)} made", *score]
    more = stage.make - mine.made
    if stage.misses_allowed is None:
        return [f"{count(mine.made)} of {count(stage.make)} made", f"make {count(more)} more", *score]
    if stage.misses_allowed == 0 and stage.on_fault == "count back":
        begun = f"{count(mine.made)} in a row" if mine.made else "none yet"
        return [begun, f"make {count(more)} {'more ' if mine.made else ''}in a row", *score]
    if stage.misses_allowed == 0 and stage.on_fault == "count one back":
        done = f"{count(mine.made)} of {count(stage.make)} made"
        return [done, f"make {count(more)} more", "a miss takes one off", *score]
    most = stage.make + stage.misses_allowed
    misses = stage.misses_allowed - missed
    may_miss = (
        "no miss left" if misses == 0 else f"{count(misses)} {'miss' if misses == 1 else 'misses'} left"
    )
    return [
        f"{count(mine.made + missed)} of {count(most)} played",
        f"make {count(more)} more",
        may_miss,
        *score,
    ]


def _lead(rules: Rules, position: MatchState) -> str:
    if rules.two_players is None or position.lead == 0:
        return "level"
    leader = rules.two_players.names[0 if position.lead > 0 else 1]
    return f"{leader} {abs(position.lead)} up"


# --- how it ended ----------------------------------------------------------------------------


def how_it_ended(
    rules: Rules,
    position: AnyState,
    totals: tuple[Totals, ...],
    time_s: float | None,
    time_is_up: bool,
) -> str:
    """How a drill that is over ended: ``finished in 17 putts, one restart, 17 min 40 s: ...``."""
    if isinstance(position, MatchState) and rules.two_players:
        return _match_ended(rules, position, totals)
    mine = totals[0]
    head = (
        "time is up" if time_is_up else "finished" if position.status == "finished" else "the drill is over"
    )
    texts = [f"{head} after {several(mine.counted, 'putt')}"]
    if rules.gives_points:
        texts.append(points(mine.points))
    elif position.status == "finished" and rules.stages[-1].make is None:
        texts.append(f"{mine.made_in_all} made")
    if mine.restarts:
        texts.append(several(mine.restarts, "restart"))
    if rules.series and rules.series.result == "rounds won":
        texts.append(f"{several(mine.rounds_won, 'round')} won of {mine.rounds_over}")
    if time_s is not None:
        texts.append(minutes(time_s))
    text = ", ".join(texts)
    beat = rules.clock.beat_s
    if beat is not None and time_s is not None and position.status == "finished":
        text += f": {'under' if time_s < beat else 'over'} the mark of {minutes(beat)}"
    if rules.stake and position.status == "failed":
        text += f"; at stake: {rules.stake}"
    return text


def _match_ended(rules: Rules, position: MatchState, totals: tuple[Totals, ...]) -> str:
    if rules.two_players is None:
        return ""
    names = rules.two_players.names
    stake = f"; at stake: {rules.stake}" if rules.stake else ""
    if position.winner is None:
        return f"halved after {several(sum(t.counted for t in totals), 'putt')}{stake}"
    by = f", {abs(position.lead)} up" if position.lead else ""
    if rules.gives_points and not position.lead:
        by = f", {points_text(totals[0].points)} to {points_text(totals[1].points)}"
    return f"{names[position.winner]} won{by}{stake}"
