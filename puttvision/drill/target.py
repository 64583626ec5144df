"""What to set a player: the streak, points, number of putts or gate at which a chosen chance is left.

Each proposal is the hardest one that still leaves at least the chance asked for, with the chance it
leaves; the next harder one is told too, because whole numbers seldom hit a chance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from puttvision.drill.chances import Player
from puttvision.drill.odds import Odds, odds, putts_in
from puttvision.drill.odds_words import number, times
from puttvision.drill.options import MOST, with_options
from puttvision.drill.rules import Rules
from puttvision.drill.search import easiest_enough, hardest
from puttvision.drill.words import minutes, several
from puttvision.errors import DrillError
from puttvision.physics import BALL_RADIUS_M

What = Literal["target", "points", "putts", "within", "gate_mm", "distance"]

NARROWEST_MM = 2000 * BALL_RADIUS_M + 1
WIDEST_MM = 300
"""Wider than any gate that asks something of the start line."""
USUAL_MINUTES, USUAL_SECONDS_PER_PUTT = 20.0, 20.0
"""Where the coach names no time: a drill's usual share of a lesson, and a putt with its walk (common
practice, no source)."""
MOST_PUTTS = 1000
"""The most putts that are proposed for a number of points."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """One thing to set: ``value`` of ``what``, the chance it leaves, and the next harder one."""

    what: What
    value: float
    chance: float
    says: str
    harder: tuple[float, float] | None = None
    """(value, chance) of the next harder one; None where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What a coach asks for."""

    chance: float
    n_putts: int | None = None
    """To be done within so many putts."""
    minutes: float | None = None
    """To be done within so many minutes; needs ``seconds_per_putt``."""
    seconds_per_putt: float | None = None
    points: float | None = None
    """To reach so many points, in a drill with a fixed number of putts."""

    def __post_init__(self) -> None:
        if not 0 < self.chance < 1:
            raise DrillError(f"--chance: a chance between 0 and 1 was due, such as 1/3, got {self.chance:g}")

    @property
    def limit(self) -> int | None:
        """Putts there are, by number or by time; None: no end is set."""
        if self.minutes is None or self.seconds_per_putt is None:
            return self.n_putts
        fit = putts_in(self.minutes, self.seconds_per_putt)
        if fit < 1:
            raise DrillError(
                f"{self.minutes:g} minutes at {self.seconds_per_putt:g} s leave no time for a putt"
            )
        return fit if self.n_putts is None else min(fit, self.n_putts)

    @property
    def words(self) -> str:
        """``within 20 minutes (60 putts)``."""
        if self.minutes is not None and self.limit is not None:
            return f"within {minutes(60 * self.minutes)} ({several(self.limit, 'putt')})"
        return f"within {several(self.limit, 'putt')}" if self.limit is not None else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What can be set in a drill, and the aim it was reckoned for, the usual time filled in."""

    rules: Rules
    aim: Aim
    proposals: tuple[Proposal, ...]
    taken: tuple[str, ...] = ()
    """What the coach did not say and was taken for granted."""


def propose(rules: Rules, player: Player, aim: Aim, *, seed: int = 1) -> Answer:
    """Everything that can be set in this drill for this aim, the drill's own option first.

    A drill that ends when it is done is asked for within 20 minutes at 20 s a putt, where the aim names
    neither putts nor minutes. Raises DrillError where a chance is lacking, or nothing that can be set
    leaves the chance asked for.
    """
    if rules.two_players:
        raise DrillError(f"{rules.name} is for two players: there is no target to set for one of them")
    asked = aim
    if aim.seconds_per_putt is None and (aim.minutes is not None or rules.clock.limit_s is not None):
        aim = replace(aim, seconds_per_putt=USUAL_SECONDS_PER_PUTT)
    now = _Reckoner(player, aim.seconds_per_putt, seed)(rules)
    is_fixed = now.is_fixed and "target" not in rules.may_change
    if not is_fixed and aim.limit is None:
        seconds = aim.seconds_per_putt or USUAL_SECONDS_PER_PUTT
        aim = replace(aim, minutes=USUAL_MINUTES, seconds_per_putt=seconds)
    reckon = _Reckoner(player, aim.seconds_per_putt, seed)
    found = _of_fixed(rules, now, aim, reckon) if is_fixed else _of_open(rules, now, aim, reckon)
    taken = []
    if player.stroke and rules.gate and rules.gate.kind == "ball" and rules.uses_gate:
        try:
            found.append(_gate(rules, now, aim, reckon))
        except DrillError as err:
            if not found:
                raise
            taken.append(f"no gate width: {err}")
    if not found:
        raise DrillError(
            f"{rules.name} has nothing that can be set for this; as it is, it is finished "
            f"{times(now.chance_to_finish or 0.0)}"
        )
    if aim.minutes is not None and asked.minutes is None:
        taken.append(f"{aim.minutes:g} minutes: --minutes T or --within N sets another time")
    if aim.seconds_per_putt is not None and asked.seconds_per_putt is None:
        taken.append(f"{aim.seconds_per_putt:g} s a putt: --seconds-per-putt S sets the player's own")
    return Answer(rules=rules, aim=aim, proposals=tuple(found), taken=tuple(taken))


@dataclass(frozen=True, slots=True)
class _Reckoner:
    player: Player
    seconds_per_putt: float | None
    seed: int

    def __call__(self, rules: Rules, wider_mm: float = 0.0) -> Odds:
        player = replace(self.player, gate_wider_mm=self.player.gate_wider_mm + wider_mm)
        return odds(rules, player, seconds_per_putt=self.seconds_per_putt, seed=self.seed)


def _of_open(rules: Rules, now: Odds, aim: Aim, reckon: _Reckoner) -> list[Proposal]:
    """For a drill that ends when it is done: a target for the time there is, and the time for its own."""
    found = [_streak(rules, aim, reckon)] if "target" in rules.may_change else []
    n = now.putts_for(aim.chance)
    if n is None and not found:
        most = now.chance_to_finish or 0.0
        raise DrillError(
            f"{rules.name} is finished {times(most)} at these chances, not as often as asked for"
        )
    return found if n is None else [*found, _time(now, aim, n)]


def _streak(rules: Rules, aim: Aim, reckon: _Reckoner) -> Proposal:
    limit = aim.limit or 0

    def chance_of(target: int) -> float:
        return reckon(with_options(rules, replace(rules.options, target=target))).chance_within(limit)

    target, chance = hardest(chance_of, aim.chance, MOST)
    if target is None:
        raise DrillError(f"even a target of 1 is reached {times(chance)} {aim.words}: allow more")
    harder = (float(target + 1), chance_of(target + 1))
    unit = "points" if rules.stages[0].points_to is not None else "in a row"
    if rules.stages[0].points_to is None and rules.stages[0].on_fault != "count back":
        unit = "made"
    says = (
        f"Set a target of {target} {unit}: reached {aim.words} {times(chance)} "
        f"({target + 1}: {times(harder[1])})."
    )
    return Proposal(what="target", value=target, chance=chance, says=says, harder=harder)


def _time(now: Odds, aim: Aim, n: int) -> Proposal:
    """How long to allow for the drill as it is."""
    seconds = aim.seconds_per_putt
    time = f", {minutes(60 * max(round(n * seconds / 60), 1))}" if seconds is not None else ""
    chance = now.chance_within(n)
    says = f"As the drill is, allow {several(n, 'putt')}{time}: finished by then {times(chance)}"
    if aim.limit is not None:
        says += f"; {aim.words} {times(now.chance_within(aim.limit))}"
    before = (float(n - 1), now.chance_within(n - 1)) if n > 1 else None
    return Proposal(what="within", value=n, chance=chance, says=f"{says}.", harder=before)


def _of_fixed(rules: Rules, now: Odds, aim: Aim, reckon: _Reckoner) -> list[Proposal]:
    takes_putts = "putts" in rules.may_change
    if aim.points is not None or not rules.gives_points:
        return [_number_of_putts(rules, aim, reckon)] if takes_putts else []
    if aim.limit is not None and takes_putts:
        now = reckon(with_options(rules, replace(rules.options, putts=aim.limit)))
    reached = now.points_reached(aim.chance)
    if reached is None:
        return []
    chance = now.chance_of_points(reached) or 0.0
    more = next((total for total, _ in now.points if total > reached), None)
    harder = (more, now.chance_of_points(more) or 0.0) if more is not None else None
    n_putts = several(round(now.expected_putts or 0), "putt")
    next_one = f" ({harder[0]:g}: {times(harder[1])})" if harder else ""
    says = f"Set {reached:g} points in {n_putts}: reached {times(chance)}{next_one}."
    return [Proposal(what="points", value=reached, chance=chance, says=says, harder=harder)]


def _number_of_putts(rules: Rules, aim: Aim, reckon: _Reckoner) -> Proposal:
    """The fewest putts that leave the chance: of the points asked for, or of finishing."""

    def chance_of(n: int) -> float:
        return _success(reckon(with_options(rules, replace(rules.options, putts=n))), aim)

    top = aim.limit if aim.limit is not None else MOST_PUTTS
    n, chance = easiest_enough(chance_of, aim.chance, 1, top)
    what = f"{aim.points:g} points" if aim.points is not None else "enough made"
    if n is None:
        raise DrillError(
            f"{what} in {several(top, 'putt')}: {times(chance)}; ask for less, or allow more putts"
        )
    says = f"Set {several(n, 'putt')}: {what} {times(chance)}."
    harder = (float(n - 1), chance_of(n - 1)) if n > 1 else None
    return Proposal(what="putts", value=n, chance=chance, says=says, harder=harder)


def _gate(rules: Rules, now: Odds, aim: Aim, reckon: _Reckoner) -> Proposal:
    """The narrowest gate, to the millimetre; several widths keep their differences."""
    widths = _widths(rules)
    if not widths:
        raise DrillError(f"{rules.name} does not say how wide its gate is: add width_mm to the drill file")
    if now.is_fixed and rules.gives_points and aim.points is None:
        aim = replace(aim, points=now.points[-1][0] / 2 if now.points else None)
    low = round(NARROWEST_MM - widths[0])

    def chance_of(step: int) -> float:
        return _success(reckon(rules, low + step), aim)

    step, chance = easiest_enough(chance_of, aim.chance, 0, round(WIDEST_MM - widths[0]) - low)
    if aim.points is not None:
        goal = f"{aim.points:g} points in {several(round(now.expected_putts or 0), 'putt')}"
    else:
        goal = f"finished {aim.words}".rstrip()
    if step is None:
        raise DrillError(f"{goal}: {times(chance)} even through a gate {WIDEST_MM} mm wide: ask for less")
    set_mm = [width + low + step for width in reversed(widths)]
    harder = (widths[0] + low + step - 1, chance_of(step - 1)) if step > 0 else None
    says = f"Set the gate {', then '.join(f'{mm:g}' for mm in set_mm)} mm wide: {goal} {times(chance)}."
    return Proposal(what="gate_mm", value=set_mm[-1], chance=chance, says=says, harder=harder)


def _widths(rules: Rules) -> list[float]:
    """The widths the gate is set to in turn, narrowest first, mm."""
    widths = {stage.usual.gate_mm for stage in rules.stages}
    for stage in rules.stages:
        widths |= {float(value) for turn in stage.turns if turn.of == "gate_mm" for value in turn.each}
    own = {rules.gate.width_mm} if rules.gate else set()
    return sorted(width for width in (widths - {None} or own) if width is not None)


def _success(found: Odds, aim: Aim) -> float:
    """Chance of what the aim asks for: its points, else finishing within its limit."""
    if aim.points is not None and found.is_fixed:
        reached = found.chance_of_points(aim.points)
        if reached is None:
            raise DrillError(f"{found.rules.name} is too long for the chances of its points")
        return reached
    if aim.limit is not None:
        return found.chance_within(aim.limit)
    return found.chance_to_finish or 0.0


def to_json(answer: Answer) -> dict[str, object]:
    """The JSON object of ``puttvision target``."""
    aim = answer.aim
    return {
        "drill": answer.rules.name,
        "chance": aim.chance,
        "within_putts": aim.limit,
        "within_minutes": aim.minutes,
        "seconds_per_putt": aim.seconds_per_putt,
        "proposals": [
            {
                "what": one.what,
                "value": one.value,
                "chance": float(f"{one.chance:.10g}"),
                "harder": None
                if one.harder is None
                else {"value": one.harder[0], "chance": float(f"{one.harder[1]:.10g}")},
                "says": one.says,
            }
            for one in answer.proposals
        ],
        "taken": list(answer.taken),
    }


def title(answer: Answer) -> str:
    """What was asked, for a heading: ``head-gate-streak, 33 % or better within 60 putts``."""
    asked = f"a chance of {number(100 * answer.aim.chance)} % or better {answer.aim.words}".rstrip()
    return f"{answer.rules.name}, {asked}"
