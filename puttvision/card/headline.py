"""The one figure a player looks at, and the words beneath it. Pure."""

from __future__ import annotations

from typing import NamedTuple

from puttvision.card.clock import time_text
from puttvision.drill import play, words
from puttvision.drill.match import MatchState
from puttvision.drill.rules import Rules
from puttvision.drill.scorecard import Scorecard
from puttvision.drill.tally import points_text
from puttvision.putts import Putt

_BEST = Putt(number=1, outcome="holed", gate_result="clear")


class Headline(NamedTuple):
    """``figure`` is digits, ``.``, ``-`` and ``:`` only."""

    figure: str
    caption: str


def headline(card: Scorecard) -> Headline:
    """How the drill stands, in one figure."""
    rules, state, mine = card.rules, play.to_play(card.position), card.totals[card.side]
    if isinstance(card.position, MatchState):
        return _match(card, card.position)
    beat_s, stage = rules.clock.beat_s, rules.stages[state.stage]
    if card.state == "finished" and beat_s is not None and card.time_s is not None:
        mark = "under" if card.time_s < beat_s else "over"
        return Headline(time_text(card.time_s), f"{mark} the mark of {time_text(beat_s)}")
    if stage.points_to is not None:
        return Headline(points_text(state.count_points), f"of {words.points(stage.points_to)}")
    if rules.gives_points:
        return _points(card)
    if stage.make is not None:
        return Headline(str(mine.made), f"of {stage.make}{_rounds_won(card)}")
    if stage.putts is not None:
        needed = f", {words.count(stage.made_needed)} needed" if stage.made_needed else ""
        played = f"made, {mine.tried} of {stage.putts} played{needed}"
        return Headline(str(mine.made), played + _rounds_won(card))
    return Headline(str(mine.made_in_all), "made")


def _rounds_won(card: Scorecard) -> str:
    series = card.rules.series
    if series is None or series.result != "rounds won":
        return ""
    return f"; {card.totals[card.side].rounds_won} of {words.several(series.win, 'round')} won"


def _points(card: Scorecard) -> Headline:
    rules, state, mine = card.rules, play.to_play(card.position), card.totals[card.side]
    stage = rules.stages[state.stage]
    figure, unit = mine.points, "point" if abs(mine.points) == 100 else "points"
    played = f", {mine.tried} of {stage.putts} played" if stage.putts is not None else ""
    if rules.series is not None and rules.series.result == "best round" and card.state == "running":
        figure, unit = state.points, "this round"
        played += f"; best {points_text(state.banked)}" if state.round else ""
    return Headline(points_text(figure), unit + played)


def _match(card: Scorecard, position: MatchState) -> Headline:
    two = card.rules.two_players
    names = two.names if two else ("", "")
    if two and two.compare == "each hole":
        if position.lead == 0:
            return Headline("0", "level")
        return Headline(str(abs(position.lead)), f"{names[0 if position.lead > 0 else 1]} up")
    pair = [points_text(t.points) if card.rules.gives_points else str(t.made) for t in card.totals]
    return Headline(":".join(pair), f"{names[0]} : {names[1]}")


def may_finish(card: Scorecard) -> bool:
    """Whether the very next putt may finish the drill: nothing else matters then."""
    if card.state != "running":
        return False
    after, _ = play.step(card.rules, card.position, _BEST)
    return after.status == "finished"


def place_changes(card: Scorecard) -> bool:
    """Whether the next putt is played from another place or another way than the one before."""
    if not card.lines:
        return True
    rules: Rules = card.rules
    return play.setting(rules, card.position) != card.lines[-1].step.setting
