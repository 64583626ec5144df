"""Measured putts against the truth: errors, coverage of u95 and calls, and the table that shows them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from puttvision.putts import Putt, PuttSheet

SAME_PUTT_S = 0.5


@dataclass(frozen=True, slots=True)
class Measure:
    """A figure of a putt and how its error is told."""

    key: str
    words: str
    unit: str
    factor: float = 1.0
    relative: bool = False


MEASURES = (
    Measure("start_direction_to_hole_deg", "start direction", "deg"),
    Measure("launch_speed_m_s", "launch speed", "%", 100.0, relative=True),
    Measure("gate_offset_mm", "gate offset", "mm"),
    Measure("hole_offset_mm", "hole offset", "mm"),
    Measure("speed_at_hole_m_s", "speed at hole", "%", 100.0, relative=True),
    Measure("run_out_m", "run-out", "cm", 100.0),
    Measure("hole_distance_m", "hole distance", "mm", 1000.0),
)

CLIP_MEASURES = (
    Measure("gate.square_deg", "gate square (a clip each)", "deg"),
    Measure("gate.width_mm", "gate gap (a clip each)", "mm"),
    Measure("green.stimp_ft", "green speed (a clip each)", "ft"),
)
Clip = tuple[dict[str, Any], PuttSheet | None]
"""The truth of a clip, and what was measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scored:
    """One putt of the truth and what was measured of it."""

    conditions: dict[str, str]
    truth: dict[str, Any]
    putt: Putt | None
    """None: not found."""


def score(
    conditions: dict[str, str], truth: Sequence[dict[str, Any]], sheet: PuttSheet | None
) -> list[Scored]:
    """Each true putt with the measured one nearest in time, each used once."""
    left = list(sheet.putts) if sheet is not None else []
    out = []
    for true in truth:
        near = [p for p in left if abs((p.start_s.value or 0.0) - true["start_s"]) <= SAME_PUTT_S]
        found = min(near, key=lambda p: abs((p.start_s.value or 0.0) - true["start_s"]), default=None)
        if found is not None:
            left.remove(found)
        out.append(Scored(conditions=conditions, truth=true, putt=found))
    return out


def invented(scored: Sequence[Scored], sheet: PuttSheet | None) -> int:
    """Measured putts that never were."""
    found = sum(s.putt is not None for s in scored)
    return (len(sheet.putts) if sheet is not None else 0) - found


@dataclass(frozen=True, slots=True)
class Errors:
    """Errors of one measure in the unit of its table, and whether u95 covered them."""

    error: np.ndarray
    u95: np.ndarray

    def __len__(self) -> int:
        return len(self.error)

    @property
    def bias(self) -> float:
        return float(np.mean(self.error))

    @property
    def median(self) -> float:
        return float(np.median(np.abs(self.error)))

    @property
    def p95(self) -> float:
        return float(np.percentile(np.abs(self.error), 95))

    @property
    def coverage(self) -> float:
        """Share of errors inside u95."""
        return float(np.mean(np.abs(self.error) <= self.u95))


def errors(scored: Iterable[Scored], measure: Measure) -> Errors:
    """All errors of a measure where both truth and measurement have a figure."""
    rows = []
    for s in scored:
        true = s.truth[measure.key]
        figure = getattr(s.putt, measure.key) if s.putt is not None else None
        if true is None or figure is None or figure.value is None or figure.u95 is None:
            continue
        scale = measure.factor / (true if measure.relative else 1.0)
        rows.append(((figure.value - true) * scale, figure.u95 * scale))
    both = np.array(rows, dtype=float).reshape(-1, 2)
    return Errors(both[:, 0], both[:, 1])


def clip_errors(clips: Iterable[Clip], measure: Measure) -> Errors:
    """All errors of a measure that a clip has one of."""
    part, name = measure.key.split(".")
    rows = []
    for truth, sheet in clips:
        true = (truth[part] or {}).get(name)
        found = None if sheet is None else getattr(sheet, part)
        figure = None if found is None else getattr(found, name)
        if true is None or figure is None or figure.value is None or figure.u95 is None:
            continue
        rows.append((figure.value - true, figure.u95))
    both = np.array(rows, dtype=float).reshape(-1, 2)
    return Errors(both[:, 0], both[:, 1])


def calls_right(scored: Iterable[Scored], key: str) -> tuple[int, int]:
    """(right, of) for a call of the putts found."""
    pairs = [(getattr(s.putt, key), s.truth[key]) for s in scored if s.putt is not None]
    return sum(a == b for a, b in pairs), len(pairs)


# ---------------------------------------------------------------- the table
def table(scored: Sequence[Scored], n_invented: int, head: str, clips: Sequence[Clip] = ()) -> str:
    """All of it as Markdown: one table by measure, one by condition."""
    n_found = sum(s.putt is not None for s in scored)
    outcome, gate = (calls_right(scored, key) for key in ("outcome", "gate_result"))
    lines = [
        head,
        "",
        f"{len(scored)} putts filmed, {n_found} found, {n_invented} invented; outcome right for "
        f"{outcome[0]} of {outcome[1]}, gate for {gate[0]} of {gate[1]}.",
        "",
        "| measure | figures | median error | 95th percentile | bias | median u95 | inside u95 |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    by_measure = [(m, errors(scored, m)) for m in MEASURES]
    by_measure += [(m, clip_errors(clips, m)) for m in CLIP_MEASURES]
    for m, e in by_measure:
        if len(e):
            lines.append(
                f"| {m.words}, {m.unit} | {len(e)} | {e.median:.2f} | {e.p95:.2f} | {e.bias:+.2f} | "
                f"{np.median(e.u95):.2f} | {100 * e.coverage:.0f} % |"
            )
    if not scored or not scored[0].conditions:
        return "\n".join(lines) + "\n"
    short = MEASURES[:6]
    lines += [
        "",
        "95th percentile of the error and, in brackets, the share inside u95, by condition:",
        "",
        "| condition | found | " + " | ".join(f"{m.words}, {m.unit}" for m in short) + " |",
        "| --- | ---: |" + " ---: |" * len(short),
    ]
    for key in scored[0].conditions:
        for level in sorted({s.conditions[key] for s in scored}, key=_in_order):
            part = [s for s in scored if s.conditions[key] == level]
            cells = []
            for m in short:
                e = errors(part, m)
                cells.append(f"{e.p95:.2f} ({100 * e.coverage:.0f} %)" if len(e) else "-")
            found = sum(s.putt is not None for s in part)
            lines.append(f"| {key}: {level} | {found} of {len(part)} | " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def _in_order(level: str) -> tuple[float, str]:
    number = level.split()[0]
    return (float(number), level) if number.replace(".", "").isdigit() else (0.0, level)
