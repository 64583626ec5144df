"""The [[stage]] part of a drill file: goal, faults, points, turns, conditions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from puttvision.drill.reader import Table, is_number, nearest
from puttvision.drill.rules import (
    BOTH_HANDS,
    CONSEQUENCES,
    TURNS_OF,
    WORDS,
    Award,
    Condition,
    Distance,
    Fault,
    GateSetup,
    Setting,
    Stage,
    Turn,
    Word,
)  # fmt: skip
from puttvision.errors import DrillError

STAGE_KEYS = (
    "title", "distance_ft", "distance_m", "grip", "ball", "side", "from", "slope", "gate_mm",
    "make", "misses_allowed", "putts", "made_needed", "points_to", "points_needed", "on_fault", "forfeit",
    "made_when", "made_when_strict", "points", "fault", "turns", "play_out", "holed_within", "pick_up_after",
    "may_change",
)  # fmt: skip
CONDITION_KEYS = ("is", "run_out_cm", "leave_cm", "start_line_deg", "putts_taken")
POINTS_KEYS = ("when", "give", "give_strict")
FAULT_KEYS = ("when", "then", "forfeit")
TURNS_KEYS = ("of", "each", "putts", "follows", "order")

ELSEWHERE_STAGE = (
    dict.fromkeys(TURNS_KEYS, "[[stage.turns]]")
    | dict.fromkeys(CONDITION_KEYS, "when = { ... } or made_when = { ... }")
    | dict.fromkeys(FAULT_KEYS, "[[stage.fault]]")
    | dict.fromkeys(POINTS_KEYS, "[[points]]")
    | dict.fromkeys(STAGE_KEYS, "[[stage]]")
)
_MOST = 100_000


def load_distance(table: Table, key: str, low_m: float = 0.1) -> Distance | None:
    """``key_ft`` or ``key_m``, not both."""
    if table.has(f"{key}_ft") and table.has(f"{key}_m"):
        raise DrillError(f"{table.where}, {key}_ft: either {key}_ft or {key}_m was due, got both")
    feet = table.number(f"{key}_ft", round(low_m / 0.3048, 1), 200, " feet")
    metres = table.number(f"{key}_m", low_m, 60, " metres")
    if feet is not None:
        return Distance(feet, "ft")
    return None if metres is None else Distance(metres, "m")


def load_condition(raw: Any, where: str, elsewhere: Mapping[str, str]) -> Condition:
    """A text, a list of texts (all must hold), or a table with ``is`` and windows."""
    data = raw if isinstance(raw, Mapping) else {"is": raw}
    table = Table(data, where, CONDITION_KEYS, elsewhere)
    if not data or data.get("is") == [] or data.get("is") == "":
        raise DrillError(f'{where}: a condition was due, such as "holed" or {{ run_out_cm = [0, 45] }}')
    words = table.texts("is") if isinstance(data.get("is", ""), (str, list)) else None
    if words is None:
        raise table.fault("is", "a text or a list of texts")
    for word in words:
        if word not in WORDS:
            listed = ", ".join(f'"{known}"' for known in WORDS)
            raise DrillError(f'{where}: one of {listed} was due, got "{word}"{nearest(word, WORDS)}')
    run_out, leave = table.window("run_out_cm", "cm", False), table.window("leave_cm", "cm", True)
    return Condition(
        words=tuple(cast(Word, word) for word in words),
        run_out_m=(run_out[0] / 100, run_out[1] / 100) if run_out else None,
        leave_m=(leave[0] / 100, leave[1] / 100) if leave else None,
        start_line_deg=table.window("start_line_deg", "degrees", True),
        putts_taken=_putts_taken(table),
    )


def _putts_taken(table: Table) -> tuple[int, int] | None:
    """A whole number, or [from, to], both included."""
    if not table.has("putts_taken"):
        return None
    raw = table.data["putts_taken"]
    low, high = raw if isinstance(raw, list) and len(raw) == 2 else (raw, raw)
    for number in (low, high):
        if isinstance(number, bool) or not isinstance(number, int) or not 1 <= low <= number <= 20:
            raise table.fault("putts_taken", "a whole number of putts from 1 to 20, or [from, to],")
    return (int(low), int(high))


def _conditions(table: Table, key: str, elsewhere: Mapping[str, str]) -> tuple[Condition, ...]:
    """A condition, or a list of tables of which any one has to hold."""
    raw, where = table.data[key], f"{table.where}, {key}"
    if isinstance(raw, list) and raw and all(isinstance(item, Mapping) for item in raw):
        return tuple(load_condition(item, where, elsewhere) for item in raw)
    return (load_condition(raw, where, elsewhere),)


def _list(table: Table, key: str, shown: str) -> list[Any]:
    raw = table.data.get(key, [])
    if not isinstance(raw, list):
        raise DrillError(f"{table.where}, {key}: a list was due, written {shown} (two brackets each side)")
    return raw


def load_awards(parent: Table, elsewhere: Mapping[str, str]) -> tuple[Award, ...]:
    """The [[points]] of a drill or of a stage."""
    awards = []
    for number, raw in enumerate(_list(parent, "points", "[[points]]"), start=1):
        table = Table(raw, f"{parent.where}, points {number}", POINTS_KEYS, elsewhere)
        give = table.hundredths("give")
        if give is None:
            raise table.fault("give", "the points it gives, such as 1 or 0.5,")
        if not table.has("when"):
            raise table.fault("when", 'a condition, such as "holed",')
        when = load_condition(table.data["when"], f"{table.where}, when", elsewhere)
        awards.append(Award(when=when, points=give, points_strict=table.hundredths("give_strict")))
    return tuple(awards)


def _faults(parent: Table, elsewhere: Mapping[str, str]) -> tuple[Fault, ...]:
    faults = []
    for number, raw in enumerate(_list(parent, "fault", "[[stage.fault]]"), start=1):
        table = Table(raw, f"{parent.where}, fault {number}", FAULT_KEYS, elsewhere)
        if not table.has("when"):
            raise table.fault("when", 'a condition, such as "short",')
        when = load_condition(table.data["when"], f"{table.where}, when", elsewhere)
        then = cast(Any, table.choice("then", CONSEQUENCES))
        faults.append(Fault(when=when, then=then, forfeit=table.text("forfeit", "")))
    return tuple(faults)


def _turns(parent: Table, elsewhere: Mapping[str, str]) -> tuple[Turn, ...]:
    turns = []
    for number, raw in enumerate(_list(parent, "turns", "[[stage.turns]]"), start=1):
        table = Table(raw, f"{parent.where}, turns {number}", TURNS_KEYS, elsewhere)
        of = cast(Any, table.choice("of", TURNS_OF))
        numeric = of in ("distance_ft", "distance_m", "gate_mm")
        each = table.data.get("each")
        good = isinstance(each, list) and len(each) > 1
        if not good or not all(
            (is_number(v) and v > 0) if numeric else isinstance(v, str) for v in each or []
        ):
            raise table.fault("each", f"a list of two or more {'numbers' if numeric else 'texts'}")
        raw_putts = table.data.get("putts", 1)
        putts = raw_putts if isinstance(raw_putts, list) else [raw_putts] * len(each or [])
        whole = all(isinstance(n, int) and not isinstance(n, bool) and 1 <= n <= 1000 for n in putts)
        if not whole or len(putts) != len(each or []):
            raise table.fault("putts", "a whole number from 1, or a list with one for each of each,")
        follows = cast(Any, table.choice("follows", ("count", "putts"), "putts"))
        order = table.choice("order", ("as listed", "random"), "as listed")
        turns.append(
            Turn(of=of, each=tuple(each or []), putts=tuple(putts), follows=follows, random=order == "random")
        )
    return tuple(turns)


def load_stage(
    raw: Any, where: str, awards: tuple[Award, ...], gate: GateSetup | None, elsewhere: Mapping[str, str]
) -> Stage:
    """One [[stage]]; ``awards`` and ``gate`` are the drill's own, used where the stage has none."""
    table = Table(raw, where, STAGE_KEYS, elsewhere)
    goals = [key for key in ("make", "putts", "points_to") if table.has(key)]
    if len(goals) > 1:
        raise DrillError(f"{where}, {goals[1]}: one goal was due (make, putts or points_to), got {goals}")
    usual: dict[str, Any] = {}
    if table.has("made_when"):
        usual["made_when"] = _conditions(table, "made_when", elsewhere)
    if table.has("made_when_strict"):
        usual["made_when_strict"] = _conditions(table, "made_when_strict", elsewhere)
    misses = table.data.get("misses_allowed")
    stage = Stage(
        title=table.text("title", ""),
        usual=_usual(table, gate),
        make=table.whole("make", 1, _MOST),
        misses_allowed=None if misses == "any" else table.whole("misses_allowed", 0, 1000, ' or "any"'),
        putts=table.whole("putts", 1, _MOST),
        made_needed=table.whole("made_needed", 1, _MOST),
        points_to=table.hundredths("points_to"),
        points_needed=table.hundredths("points_needed"),
        on_fault=cast(Any, table.choice("on_fault", CONSEQUENCES[:-1])) if table.has("on_fault") else None,
        forfeit=table.text("forfeit", ""),
        awards=load_awards(table, elsewhere) or awards,
        faults=_faults(table, elsewhere),
        turns=_turns(table, elsewhere),
        play_out=table.flag("play_out"),
        holed_within=table.whole("holed_within", 1, 20) or 1,
        pick_up_after=table.whole("pick_up_after", 1, 20) or 5,
        may_change=_may_change(table, goals),
        **usual,
    )
    _check_stage(stage, table)
    return stage


def _usual(table: Table, gate: GateSetup | None) -> Setting:
    """How the stage's putts are played where no turn says otherwise."""
    width_mm = table.number("gate_mm", 43, 1000, " mm")
    if width_mm is not None and gate is None:
        raise table.fault("gate_mm", "[gate] beside gate_mm")
    return Setting(
        distance=load_distance(table, "distance"),
        grip=table.text("grip", BOTH_HANDS),
        ball=table.text("ball", ""),
        side=table.text("side", ""),
        from_=table.text("from", ""),
        slope=table.text("slope", ""),
        gate_mm=width_mm or (gate.width_mm if gate else None),
    )


def _may_change(table: Table, goals: list[str]) -> frozenset[str]:
    named = table.texts("may_change")
    for key in named:
        if key not in goals:
            has = f'"{goals[0]}"' if goals else "a goal"
            raise table.fault("may_change", f"the stage's own goal, {has},")
    return frozenset(named)


def _check_stage(stage: Stage, table: Table) -> None:
    if stage.make is not None and not table.has("misses_allowed"):
        raise table.fault("misses_allowed", 'a whole number from 0 or "any" beside make')
    if stage.make is None and table.has("misses_allowed"):
        raise table.fault("make", "make beside misses_allowed (with putts, use made_needed)")
    for key in ("made_needed", "points_needed"):
        if table.has(key) and stage.putts is None:
            raise table.fault("putts", f"putts beside {key}")
    if stage.made_needed and stage.putts and stage.made_needed > stage.putts:
        raise table.fault("made_needed", f"no more than the {stage.putts} putts of the stage")
    can_lose = stage.misses_allowed is not None or stage.made_needed or stage.points_needed is not None
    if can_lose and stage.on_fault is None:
        due = ", ".join(f'"{word}"' for word in CONSEQUENCES[:-1])
        raise table.fault("on_fault", f"one of {due}")
    if stage.on_fault and not can_lose:
        raise table.fault(
            "misses_allowed", "a number of misses (or made_needed, points_needed) beside on_fault"
        )
    if stage.points_to is not None and stage.points_to <= 0:
        raise table.fault("points_to", "points above 0")
    one_back = [stage.on_fault, *(fault.then for fault in stage.faults)]
    if "count one back" in one_back and stage.make is None:
        raise table.fault("make", 'make beside "count one back"')
    named = [turn.of.removesuffix("_ft").removesuffix("_m") for turn in stage.turns]
    for of in named:
        if named.count(of) > 1:
            raise DrillError(f"{table.where}, turns: one [[stage.turns]] of {of} was due, got two")
    if any(turn.follows == "count" for turn in stage.turns) and stage.make is None:
        raise table.fault("make", 'make beside turns that follow the "count"')
    if not stage.play_out and any(c.putts_taken for c in stage.conditions):
        raise table.fault("play_out", "play_out = true beside putts_taken")
    if not stage.play_out and (table.has("holed_within") or table.has("pick_up_after")):
        raise table.fault("play_out", "play_out = true beside holed_within and pick_up_after")
    if stage.play_out and table.has("made_when"):
        raise table.fault("holed_within", "holed_within in place of made_when in a stage that is played out")
