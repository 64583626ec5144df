"""Putting a player's options (``--target``, ``--putts``, ``--strict``, ...) in force, and random orders."""

from __future__ import annotations

import random
from dataclasses import replace

from puttvision.drill.rules import Award, Options, Rules, Stage, Turn
from puttvision.errors import DrillError

MOST = 100_000
"""More than anyone putts in a day; keeps a slip of the finger from filling the memory."""


def with_options(rules: Rules, options: Options) -> Rules:
    """The rules with a player's options in force; raises DrillError where the drill does not take one."""
    _check(rules, options)
    seed = rules.seed if options.seed is None else options.seed
    stages = tuple(
        _stage(stage, options, f"{seed} {number}") for number, stage in enumerate(rules.stages, start=1)
    )
    two = rules.two_players
    if two and options.players:
        two = replace(two, names=options.players)
    return replace(rules, stages=stages, seed=seed, two_players=two, options=options)


def _check(rules: Rules, options: Options) -> None:
    given = {name for name in ("target", "putts", "seed", "players") if getattr(options, name) is not None}
    given |= {"strict"} if options.strict else set()
    wrong = sorted(given - rules.may_change)
    if wrong:
        takes = ", ".join(f"--{name}" for name in sorted(rules.may_change)) or "none"
        raise DrillError(f"{rules.name} takes no --{wrong[0]}; options it takes: {takes}")
    for name in ("target", "putts"):
        number = getattr(options, name)
        if number is not None and not 1 <= number <= MOST:
            raise DrillError(f"--{name}: a number from 1 to {MOST} was due, got {number}")
    if options.players and (options.players[0] == options.players[1] or not all(options.players)):
        raise DrillError("--players: two different names were due, such as --players Ines,Oluf")


def _stage(stage: Stage, options: Options, seed: str) -> Stage:
    changes: dict[str, int] = {}
    if options.target is not None:
        if "make" in stage.may_change:
            changes["make"] = options.target
        if "points_to" in stage.may_change:
            changes["points_to"] = 100 * options.target
    if options.putts is not None and "putts" in stage.may_change:
        changes["putts"] = options.putts
    made_when = stage.made_when
    if options.strict and stage.made_when_strict is not None:
        made_when = stage.made_when_strict
    n_putts = changes.get("putts", stage.putts)
    return replace(
        stage,
        make=changes.get("make", stage.make),
        points_to=changes.get("points_to", stage.points_to),
        putts=n_putts,
        made_when=made_when,
        awards=tuple(_award(award, options.strict) for award in stage.awards),
        turns=tuple(
            replace(turn, sequence=_sequence(turn, n_putts, f"{seed} {turn.of}")) for turn in stage.turns
        ),
    )


def _award(award: Award, strict: bool) -> Award:
    if strict and award.points_strict is not None:
        return replace(award, points=award.points_strict)
    return award


def _sequence(turn: Turn, n_putts: int | None, seed: str) -> tuple[str | float, ...]:
    """One round of a turn, putt by putt.

    In random order every item comes once before any comes again; the seed fixes the order. A text
    seed and ``Random.random`` are the parts of ``random`` that stay the same from version to version.
    """
    runs = list(zip(turn.each, turn.putts, strict=True))
    if not turn.random:
        return tuple(value for value, count in runs for _ in range(count))
    chance = random.Random(seed)
    length = sum(turn.putts)
    n_rounds = max(1, -(-(n_putts or 10 * length) // length))
    drawn: list[str | float] = []
    for _ in range(n_rounds):
        order = sorted((chance.random(), i) for i in range(len(runs)))
        drawn += [runs[i][0] for _, i in order for _ in range(runs[i][1])]
    return tuple(drawn)
