"""Which boxes a paper score card needs: the rules of a drill as columns to tick and rows to fill. Pure.

A column is a putt, a row what is written of it. A drill that may start again is played in goes: one
row, or one block of rows, a go.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from puttvision.drill.rules import GATE_WORDS, HOLED, Rules, Stage, Turn
from puttvision.drill.words import place

_OPEN_COLUMNS = 40
"""Boxes of a stage of which nobody knows how many putts it takes."""
_MOST_COLUMNS = 2_000


@dataclass(frozen=True, slots=True)
class Band:
    """Neighbouring columns that are played alike: ``trail hand alone`` over twelve boxes."""

    words: str
    n_columns: int


@dataclass(frozen=True, slots=True)
class Group:
    """The columns of one stage."""

    title: str
    n_columns: int
    bands: tuple[tuple[Band, ...], ...]
    """One row of bands for each thing that alternates."""

    def part(self, first: int, end: int) -> Group:
        """Columns ``first`` up to ``end`` as a group of their own."""
        rows = tuple(_cut(row, first, end) for row in self.bands)
        return Group(self.title, min(end, self.n_columns) - first, rows)


@dataclass(frozen=True, slots=True)
class Plan:
    """All boxes of a drill."""

    groups: tuple[Group, ...]
    rows: tuple[str, ...]
    """What is written of each putt; one unnamed row where a tick is all."""
    goes: tuple[str, ...]
    """What each go is called (``round 2``); ``()``: as many numbered ones as there is room for."""
    each_stage_alone: bool
    """A fault starts the stage again, never the drill: each stage has goes of its own."""


def plan(rules: Rules) -> Plan:
    """The boxes of a drill."""
    groups = tuple(
        Group(_title(rules, number, stage), n_columns, _bands(stage, n_columns))
        for number, stage in enumerate(rules.stages, start=1)
        for n_columns in [min(_n_columns(rules, stage), _MOST_COLUMNS)]
    )
    back = any(stage.on_fault not in (None, "end", "nothing") for stage in rules.stages)
    if rules.series:
        goes: tuple[str, ...] = tuple(f"Round {number}" for number in range(1, rules.series.rounds + 1))
    elif rules.attempts is not None:
        goes = tuple(f"Go {number}" for number in range(1, rules.attempts + 1))
    else:
        goes = () if back and not _takes_one_off(rules) else ("",)
    alone = not goes and all(stage.on_fault == "count back" for stage in rules.stages)
    return Plan(groups, _rows(rules), goes, alone)


def _takes_one_off(rules: Rules) -> bool:
    return any(stage.on_fault == "count one back" for stage in rules.stages)


def _title(rules: Rules, number: int, stage: Stage) -> str:
    gate = f"gate {stage.usual.gate_mm:g} mm" if stage.usual.gate_mm else ""
    where = ", ".join(text for text in (place(stage.usual), gate) if text)
    if len(rules.stages) == 1:
        return ""
    if _n_columns(rules, stage) < 3:
        return where or str(number)
    return f"Stage {number}: {where}" if where else f"Stage {number}"


def _n_columns(rules: Rules, stage: Stage) -> int:
    if stage.putts is not None:
        return stage.putts
    if stage.make is None:
        return _OPEN_COLUMNS
    if stage.misses_allowed is None or stage.on_fault == "count one back":
        return 4 * stage.make
    most = stage.make + stage.misses_allowed
    if len(rules.stages) > 1 and stage.on_fault == "count back" and not stage.turns and most < 4:
        return 8  # so short a count begins several times before it is made: within one row
    return most


def _rows(rules: Rules) -> tuple[str, ...]:
    """Rows a putt, in the order things happen."""
    if rules.two_players:
        return rules.two_players.names
    rows = []
    stages = rules.stages
    if any(GATE_WORDS.intersection(c.words) for stage in stages for c in stage.conditions):
        rows.append("gate")
    if any(stage.play_out for stage in stages):
        rows.append("putts taken")
    elif any(stage.made_when == HOLED for stage in stages) or rules.gives_points:
        rows.append("holed")
    if rules.gives_points:
        rows.append("points")
    return tuple(rows) if len(rows) > 1 else ("",)


# --- bands -----------------------------------------------------------------------------------


def _bands(stage: Stage, n_columns: int) -> tuple[tuple[Band, ...], ...]:
    told = [turn for turn in stage.turns if turn.follows == "putts" or stage.misses_allowed == 0]
    if stage.on_fault == "count one back":
        told = [turn for turn in told if turn.follows == "putts"]
    return tuple(_row(turn, n_columns) for turn in told)


def _row(turn: Turn, n_columns: int) -> tuple[Band, ...]:
    unit = {"distance_ft": " ft", "distance_m": " m", "gate_mm": " mm"}.get(turn.of, "")
    words = [f"{_value(turn.sequence[i % len(turn.sequence)])}{unit}" for i in range(n_columns)]
    return tuple(Band(text, len(list(run))) for text, run in groupby(words))


def _value(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _cut(bands: tuple[Band, ...], first: int, end: int) -> tuple[Band, ...]:
    out, at = [], 0
    for band in bands:
        n_columns = min(at + band.n_columns, end) - max(at, first)
        if n_columns > 0:
            out.append(Band(band.words, n_columns))
        at += band.n_columns
    return tuple(out)
