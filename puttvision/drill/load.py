"""A drill file (TOML) to rules. The keys and what they mean: KEYS.md beside this module."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from typing import Any, cast

from puttvision.drill.load_stage import ELSEWHERE_STAGE, load_awards, load_distance, load_stage
from puttvision.drill.options import with_options
from puttvision.drill.reader import Table
from puttvision.drill.rules import Clock, GateSetup, Options, Rules, Series, Stage, TwoPlayers
from puttvision.errors import DrillError

DRILL_KEYS = (
    "name", "title", "about", "setup", "equipment", "stake", "attempts", "most_putts", "lowest_points",
    "seed", "clock", "series", "two_players", "gate", "points", "stage",
)  # fmt: skip
CLOCK_KEYS = ("beat_min", "limit_min", "at_limit")
SERIES_KEYS = ("rounds", "result", "win")
TWO_PLAYERS_KEYS = ("names", "compare", "level")
GATE_KEYS = ("kind", "ahead_ft", "ahead_m", "width_mm", "width")

_ELSEWHERE = (
    ELSEWHERE_STAGE
    | dict.fromkeys(CLOCK_KEYS, "[clock]")
    | dict.fromkeys(SERIES_KEYS, "[series]")
    | dict.fromkeys(TWO_PLAYERS_KEYS, "[two_players]")
    | dict.fromkeys(GATE_KEYS, "[gate]")
    | dict.fromkeys(DRILL_KEYS, "the head of the file, above the first [table]")
)


def parse_rules(text: str, where: str = "drill file") -> Rules:
    """Read the text of a drill file; ``where`` names it in messages.

    Raises DrillError with one line: file, key, what was due, nearest valid key.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as err:
        raise DrillError(f"{where} is not a TOML file: {_toml_fault(str(err), text)}") from err
    table = Table(data, where, DRILL_KEYS, _ELSEWHERE)
    name = table.text("name")
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
        raise table.fault("name", 'small letters, digits and hyphens, such as "four-in-a-row",')
    raw_stages = data.get("stage")
    if not isinstance(raw_stages, list) or not raw_stages:
        raise DrillError(f"{where}, stage: at least one [[stage]] was due, and it is missing")
    awards, gate = load_awards(table, _ELSEWHERE), _gate(data, where)
    stages = tuple(
        load_stage(raw, f"{where}, stage {number}", awards, gate, _ELSEWHERE)
        for number, raw in enumerate(raw_stages, start=1)
    )
    seed = table.whole("seed", 0, 2**31)
    rules = Rules(
        name=name,
        title=table.text("title", name.replace("-", " ").capitalize()),
        about=table.text("about", ""),
        setup=table.text("setup", ""),
        equipment=table.texts("equipment"),
        stages=stages,
        gate=gate,
        clock=_clock(data, where, stages),
        series=_series(data, where),
        two_players=_two_players(data, where),
        attempts=table.whole("attempts", 1, 1000),
        most_putts=table.whole("most_putts", 1, 100_000),
        lowest_points=table.hundredths("lowest_points"),
        stake=table.text("stake", ""),
        seed=1 if seed is None else seed,
    )
    _check_whole(rules, table)
    return with_options(rules, Options())


def _toml_fault(message: str, text: str) -> str:
    found = re.search(r"\(at line (\d+), column \d+\)", message)
    if found is None:
        return message
    line = text.splitlines()[int(found[1]) - 1].strip() if int(found[1]) <= len(text.splitlines()) else ""
    hint = "texts stand in quotes, keys as key = value, stages under [[stage]]"
    shown = "".join(letter if letter.isprintable() else "?" for letter in line[:50])
    return f'{message}: "{shown}"; {hint}'


def _sub(data: dict[str, Any], where: str, key: str, keys: Sequence[str]) -> Table | None:
    if key not in data:
        return None
    return Table(data[key], f"{where}, {key}", keys, _ELSEWHERE)


def _clock(data: dict[str, Any], where: str, stages: tuple[Stage, ...]) -> Clock:
    table = _sub(data, where, "clock", CLOCK_KEYS)
    if table is None:
        return Clock()
    beat, limit = (table.number(key, 0.1, 600, " minutes") for key in ("beat_min", "limit_min"))
    if beat is None and limit is None:
        raise table.fault("beat_min", "beat_min (a mark to beat) or limit_min (a hard limit), in minutes,")
    if table.has("at_limit") and limit is None:
        raise table.fault("limit_min", "limit_min beside at_limit")
    usual = "finished" if any(_is_open(stage) for stage in stages) else "failed"
    return Clock(
        beat_s=None if beat is None else 60 * beat,
        limit_s=None if limit is None else 60 * limit,
        at_limit=cast(Any, table.choice("at_limit", ("finished", "failed"), usual)),
    )


def _series(data: dict[str, Any], where: str) -> Series | None:
    table = _sub(data, where, "series", SERIES_KEYS)
    if table is None:
        return None
    rounds = table.whole("rounds", 2, 100)
    if rounds is None:
        raise table.fault("rounds", "the number of rounds, from 2,")
    result = table.choice("result", ("best round", "all rounds", "rounds won"))
    win = table.whole("win", 1, rounds, " (the rounds)")
    if (win is not None) != (result == "rounds won"):
        raise table.fault("win", 'win (rounds to be won) together with result = "rounds won", and only then,')
    return Series(rounds=rounds, result=cast(Any, result), win=win or 1)


def _two_players(data: dict[str, Any], where: str) -> TwoPlayers | None:
    table = _sub(data, where, "two_players", TWO_PLAYERS_KEYS)
    if table is None:
        return None
    names = table.texts("names") or ("first player", "second player")
    if len(names) != 2 or names[0] == names[1]:
        raise table.fault("names", 'two different names, such as ["Ines", "Oluf"],')
    return TwoPlayers(
        names=(names[0], names[1]),
        compare=cast(Any, table.choice("compare", ("each hole", "whole drill"))),
        level=cast(Any, table.choice("level", ("halved", "go on"), "halved")),
    )


def _gate(data: dict[str, Any], where: str) -> GateSetup | None:
    table = _sub(data, where, "gate", GATE_KEYS)
    if table is None:
        return None
    ahead = load_distance(table, "ahead", 0.05)
    return GateSetup(
        kind=cast(Any, table.choice("kind", ("ball", "head"))),
        ahead_m=ahead.metres if ahead else None,
        width_mm=table.number("width_mm", 43, 1000, " mm"),
        width=table.text("width", ""),
    )


def _is_open(stage: Stage) -> bool:
    return stage.make is None and stage.putts is None and stage.points_to is None


def _check_whole(rules: Rules, table: Table) -> None:
    """What only the whole drill shows."""
    where = table.where
    for number, stage in enumerate(rules.stages, start=1):
        if _is_open(stage) and (rules.clock.limit_s is None or len(rules.stages) > 1):
            raise DrillError(
                f"{where}, stage {number}: one of make, putts or points_to was due (a stage without a goal "
                "goes with [clock] limit_min, and as the only stage), and all are missing"
            )
        for key, goal in (("points_to", stage.points_to), ("points_needed", stage.points_needed)):
            if goal is not None and not stage.awards:
                raise DrillError(f"{where}, stage {number}, {key}: [[points]] to reach it with were due")
    if rules.lowest_points is not None and not rules.gives_points:
        raise table.fault("lowest_points", "[[points]] beside it")
    if rules.uses_gate and (rules.gate is None or rules.gate.kind != "ball"):
        raise DrillError(f'{where}, gate: [gate] with kind = "ball" was due, since a rule asks for the gate')
    if rules.series and rules.series.result != "rounds won" and not rules.gives_points:
        raise DrillError(f'{where}, series, result: "rounds won" was due in a drill without [[points]]')
    if rules.two_players:
        _check_two(rules, where)


def _check_two(rules: Rules, where: str) -> None:
    if rules.series or rules.most_putts:
        raise DrillError(f"{where}, two_players: no [series] and no most_putts was due beside it")
    if rules.two_players and rules.two_players.compare == "each hole":
        first = rules.stages[0]
        if len(rules.stages) > 1 or first.putts is None or first.faults or first.on_fault or first.play_out:
            raise DrillError(
                f'{where}, two_players, compare: with "each hole" one stage with putts (the holes), without '
                "faults and without play_out was due"
            )
    elif all(stage.putts is not None for stage in rules.stages) and not rules.gives_points:
        raise DrillError(f'{where}, points: [[points]] were due to compare the "whole drill" by')
