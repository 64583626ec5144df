"""A whole drill scored: putts through the engine, totals, lines, and scorecard.json.

Pure: (rules, putts so far) -> scorecard, so that a corrected list of putts gives exactly what
scoring them first time would have given, and any beginning of a list is a valid scorecard.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from puttvision.drill import play, words
from puttvision.drill.engine import Status, Step
from puttvision.drill.judge import doubt
from puttvision.drill.match import MatchState
from puttvision.drill.play import AnyState
from puttvision.drill.rules import Rules
from puttvision.drill.tally import Line, Totals, points_number
from puttvision.putts import Putt

FORMAT = "puttvision-scorecard/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scorecard:
    """A drill as far as it was played."""

    rules: Rules
    position: AnyState
    """Where the engine stands."""
    lines: tuple[Line, ...]
    set_aside: tuple[tuple[int, str], ...]
    """Number and reason of each putt that could not be judged."""
    totals: tuple[Totals, ...]
    """One a player."""
    time_s: float | None = None
    """From the first stroke of the drill to the last one counted."""
    time_is_up: bool = False
    look_at: tuple[int, ...] = field(default=())
    """Numbers of counted putts that a person should look at: the measurement says so."""
    elsewhere: tuple[int, ...] = ()
    """Numbers of counted putts that were measured from another distance than the drill asks."""

    @property
    def state(self) -> Status:
        return self.position.status

    @property
    def side(self) -> int:
        """Whose putt is next, in a drill for two; else 0."""
        return self.position.to_play if isinstance(self.position, MatchState) else 0

    @property
    def counted(self) -> int:
        return len(self.lines)

    @property
    def points(self) -> int | None:
        """The total in hundredths; None in a drill that gives none, and in one for two players."""
        return self.totals[0].points if self.rules.gives_points and len(self.totals) == 1 else None

    @property
    def what_next(self) -> str:
        """What comes next, in words; how it ended, once it is over."""
        if self.state != "running":
            return words.how_it_ended(self.rules, self.position, self.totals, self.time_s, self.time_is_up)
        return words.what_next(self.rules, self.position, self.totals)

    @property
    def what_happened(self) -> str:
        """What the last counted putt did, in words; empty before the first."""
        return words.what_happened(self.rules, self.lines[-1]) if self.lines else ""

    def player(self, line: Line) -> str:
        """Whose putt a line is, in a drill for two; else empty."""
        return self.rules.two_players.names[line.step.side] if self.rules.two_players else ""

    def to_json(self) -> dict[str, Any]:
        """The JSON object of ``puttvision-scorecard/1``."""
        return _to_json(self)


def score(rules: Rules, putts: Iterable[Putt]) -> Scorecard:
    """Score a list of putts.

    A putt that is unseen, lacks a measure the rules read, or was played out of turn is set aside
    and the drill waits. Once the drill is over, later putts are not looked at.
    """
    position = play.start(rules)
    totals = tuple(Totals() for _ in range(2 if rules.two_players else 1))
    lines: list[Line] = []
    set_aside: list[tuple[int, str]] = []
    look_at: list[int] = []
    elsewhere: list[int] = []
    began_s: float | None = None
    time_s: float | None = None
    time_is_up = False
    limit_s = rules.clock.limit_s
    doubts = bool(rules.measures)
    step = play.remembering(rules)
    for putt in putts:
        if position.status != "running":
            break
        now_s = putt.start_s.value
        if now_s is not None:
            began_s = now_s if began_s is None else began_s
            if limit_s is not None and now_s - began_s > limit_s:
                position, time_is_up = play.time_up(rules, position), True
                break
        stage = rules.stages[play.to_play(position).stage] if doubts else None
        before = position
        position, result = step(before, putt)
        if result.kind == "set aside":
            set_aside.append((putt.number, result.reason))
            continue
        if now_s is not None and began_s is not None:
            time_s = now_s - began_s
        mine = totals[result.side]
        mine.add(result)
        unsure = doubt(stage, putt) if stage else ""
        lines.append(Line(putt.number, result, mine.made, mine.tried, mine.streak, mine.points, unsure))
        if putt.review or unsure:
            look_at.append(putt.number)
        measured_m = putt.hole_distance_m.value
        if measured_m is not None and play.to_play(before).taken == 0 and _is_elsewhere(measured_m, result):
            elsewhere.append(putt.number)
    return Scorecard(
        rules=rules,
        position=position,
        lines=tuple(lines),
        set_aside=tuple(set_aside),
        totals=totals,
        time_s=time_s,
        time_is_up=time_is_up,
        look_at=tuple(look_at),
        elsewhere=tuple(elsewhere),
    )


def _is_elsewhere(measured_m: float, result: Step) -> bool:
    """A quarter and a foot off: no slip in setting a tee."""
    asked = result.setting.distance
    if asked is None:
        return False
    return abs(measured_m - asked.metres) > max(0.25 * asked.metres, 0.3)


# --- JSON ------------------------------------------------------------------------------------


_TURN_KEYS = ("ball", "side", "from", "slope", "gate_mm")


def _line_out(rules: Rules, line: Line) -> dict[str, Any]:
    result = line.step
    played = result.setting
    out: dict[str, Any] = {
        "putt": line.putt,
        "stage": result.stage + 1,
        "grip": played.grip,
        "made": result.kind == "made",
        "points": points_number(result.points) if rules.gives_points else None,
        "restarted": result.restarted,
        "what_happened": words.what_happened(rules, line),
    }
    if played.distance:
        out["distance_m"] = round(played.distance.metres, 4)
    if played != rules.stages[result.stage].usual:
        out |= {key: value for key, value in zip(_TURN_KEYS, played[2:], strict=True) if value}
    if result.forfeit:
        out["forfeit"] = result.forfeit
    if line.doubt:
        out["doubt"] = line.doubt
    if rules.two_players:
        out["player"] = rules.two_players.names[result.side]
    return out


def _options_out(rules: Rules) -> dict[str, Any]:
    options = rules.options
    given = {"target": options.target, "putts": options.putts, "strict": options.strict or None}
    out = {key: value for key, value in given.items() if value is not None}
    if "seed" in rules.may_change:
        out["seed"] = rules.seed
    return out


def _clock_out(card: Scorecard) -> dict[str, Any] | None:
    clock = card.rules.clock
    if clock.beat_s is None and clock.limit_s is None:
        return None
    beaten = None
    if clock.beat_s is not None and card.time_s is not None and card.state == "finished":
        beaten = card.time_s < clock.beat_s
    return {"beat_s": clock.beat_s, "limit_s": clock.limit_s, "beaten": beaten, "time_is_up": card.time_is_up}


def _players_out(card: Scorecard) -> list[dict[str, Any]]:
    two, position = card.rules.two_players, card.position
    if two is None or not isinstance(position, MatchState):
        return []
    return [
        {
            "name": name,
            "counted": totals.counted,
            "made": totals.made_in_all,
            "points": points_number(totals.points) if card.rules.gives_points else None,
            "streak": totals.streak,
            "best_streak": totals.best_streak,
            "restarts": totals.restarts,
            "holes_up": (position.lead if side == 0 else -position.lead)
            if two.compare == "each hole"
            else None,
            "won": None if card.state == "running" else position.winner == side,
        }
        for side, (name, totals) in enumerate(zip(two.names, card.totals, strict=True))
    ]


def _to_json(card: Scorecard) -> dict[str, Any]:
    rules, mine = card.rules, card.totals[card.side]
    out: dict[str, Any] = {
        "format": FORMAT,
        "drill": rules.name,
        "title": rules.title,
        "options": _options_out(rules),
        "state": card.state,
        "counted": card.counted,
        "set_aside": [number for number, _ in card.set_aside],
        "set_aside_why": {str(number): why for number, why in card.set_aside},
        "points": None if card.points is None else points_number(card.points),
        "restarts": sum(totals.restarts for totals in card.totals),
        "streak": mine.streak,
        "best_streak": mine.best_streak,
        "stage": {
            "number": play.to_play(card.position).stage + 1,
            "of": len(rules.stages),
            "made": mine.made,
            "tried": mine.tried,
        },
        "time_s": None if card.time_s is None else round(card.time_s, 3),
        "clock": _clock_out(card),
        "what_next": card.what_next,
        "look_at": list(card.look_at),
        "other_distance": list(card.elsewhere),
    }
    if rules.stake:
        out["stake"] = rules.stake
    if rules.series:
        out["series"] = {"rounds": rules.series.rounds, "over": mine.rounds_over, "won": mine.rounds_won}
    if rules.two_players:
        out["players"] = _players_out(card)
    out["lines"] = [_line_out(rules, line) for line in card.lines]
    return out
