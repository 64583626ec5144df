"""The boxes on a paper score card: how large, in how many lines, and drawn. Millimetres, y down."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reportlab.pdfbase.pdfmetrics import stringWidth

from puttvision.printing.card_plan import Band, Group, Plan
from puttvision.printing.pen import GREY, INK, POINTS_PER_MM, Pen, rectangle

_WORDS_PT = 9.0
_NUMBER_PT = 7.5
_LEAST_BOX_MM = 7.2
"""Width that takes a pencil's tick."""
_MOST_BOX_MM = 17.2
"""Ten across the page; wider only for the words above it."""
_FIXED_HIGH_MM = (13.0, 12.0, 11.0, 10.0, 9.0, 8.0, 7.0, 6.2)
"""Heights of a box tried in turn, until all of them fit."""
_GO_HIGH_MM = (9.0, 8.0, 7.0, 6.2)
"""The same for a drill that may start again: more goes rather than larger boxes."""
_MOST_COLUMNS = (12, 1_000)
"""Boxes side by side where several rows are filled for each putt; more only where that is too few."""
_HEADER_MM = 4.4
"""A line of small words above the boxes."""
_GAP_MM = 4.0
"""Between stages, and between blocks."""
_MOST_GOES = 12
_FEW_GOES = 4
"""Goes of a drill that may start again, below which the boxes are made smaller."""


@dataclass(frozen=True, slots=True)
class Line:
    """Groups that stand side by side."""

    groups: tuple[Group, ...]
    first_number: int | None
    """Number of its first putt; None: no numbers."""

    @property
    def n_columns(self) -> int:
        return sum(group.n_columns for group in self.groups)


@dataclass(frozen=True, slots=True)
class Table:
    """A laid-out table. Each section is a drill; or, where each stage starts again by itself, a line of
    a stage, so that a count of fifty has its first boxes for all goes together: most goes end there."""

    plan: Plan
    sections: tuple[tuple[Line, ...], ...]
    goes: tuple[str, ...]
    """Of each section; an empty name where there is but one."""
    box_mm: tuple[float, float]
    """Width and height of a box."""
    label_mm: float
    """Room left of the boxes for what a row is."""
    room_mm: float
    """Height that was to be had."""

    def shares_header(self, lines: tuple[Line, ...]) -> bool:
        """One line a go and one row: the words above the boxes stand once for all goes."""
        return len(lines) == 1 and len(self.plan.rows) == 1

    @property
    def high_mm(self) -> float:
        """Height of it all."""
        return sum(self._section_mm(lines) for lines in self.sections)

    def _section_mm(self, lines: tuple[Line, ...]) -> float:
        high = self.box_mm[1]
        if self.shares_header(lines):
            return _head_mm(lines[0]) + len(self.goes) * high + _GAP_MM
        rows = len(self.plan.rows)
        block = sum(_head_mm(line) + rows * high + 2.0 for line in lines) + _GAP_MM
        return len(self.goes) * block

    @property
    def n_left_out(self) -> int:
        """Putts that found no box."""
        shown = sum(line.n_columns for lines in self.sections for line in lines)
        return sum(group.n_columns for group in self.plan.groups) - shown

    @property
    def is_whole(self) -> bool:
        """Whether every putt has its box, and a drill that may start again some goes."""
        least = len(self.plan.goes) or 2
        return self.n_left_out == 0 and self.high_mm <= self.room_mm and len(self.goes) >= least


def lay_out(boxes: Plan, width_mm: float, height_mm: float) -> Table:
    """The table in the room there is; where that is too little, the first columns of it."""
    heights = _FIXED_HIGH_MM if boxes.goes else _GO_HIGH_MM
    for most, high_mm in ((most, high_mm) for most in _MOST_COLUMNS for high_mm in heights):
        table = _with_height(boxes, width_mm, height_mm, high_mm, most)
        if table.is_whole and (boxes.goes or len(table.goes) >= _FEW_GOES or high_mm == heights[-1]):
            return table
    while table.high_mm > table.room_mm and sum(map(len, table.sections)) > 1:
        last = table.sections[-1][:-1]
        table = replace(table, sections=(*table.sections[:-1], *((last,) if last else ())))
    return table


def _with_height(boxes: Plan, width_mm: float, height_mm: float, high_mm: float, most_columns: int) -> Table:
    names = [*boxes.rows, *boxes.goes, "12"]
    label = max((text_mm(name, _WORDS_PT) for name in names if name), default=0.0) + 2.5
    stacked = [(group,) for group in boxes.groups] if boxes.each_stage_alone else [boxes.groups]
    room = width_mm - label
    least = max(_least_box(groups) for groups in stacked)
    sections = tuple(_lines(boxes, groups, room, least, most_columns) for groups in stacked)
    if boxes.each_stage_alone:
        sections = tuple((line,) for lines in sections for line in lines)
    longest = max((line for lines in sections for line in lines), key=lambda line: line.n_columns)
    gaps = _GAP_MM * (len(longest.groups) - 1)
    box = max(min((room - gaps) / longest.n_columns, _MOST_BOX_MM), least)
    table = Table(boxes, sections, boxes.goes or ("1",), (box, high_mm), label, height_mm)
    while not boxes.goes and len(table.goes) < _MOST_GOES:
        more = replace(table, goes=(*table.goes, str(len(table.goes) + 1)))
        if more.high_mm > height_mm:
            break
        table = more
    return table


def _least_box(groups: tuple[Group, ...]) -> float:
    """Width at which the words above every run of boxes fit."""
    least = _LEAST_BOX_MM
    for group in groups:
        for row in group.bands:
            whole = row[:-1] if len(row) > 1 else row
            least = max([least, *((text_mm(band.words, _WORDS_PT) + 1.2) / band.n_columns for band in whole)])
        least = max(least, (text_mm(group.title, _WORDS_PT, bold=True) + 1) / group.n_columns)
    return least


def _lines(
    boxes: Plan, groups: tuple[Group, ...], room_mm: float, box_mm: float, most_columns: int
) -> tuple[Line, ...]:
    """The groups side by side where they fit; else each in lines of its own."""
    n_columns = sum(group.n_columns for group in groups)
    most = max(int(room_mm / box_mm + 1e-6), 1)
    several_rows = len(boxes.rows) > 1 and len(groups) == 1 and n_columns > most_columns
    if n_columns * box_mm + _GAP_MM * (len(groups) - 1) <= room_mm and not several_rows:
        return (Line(groups, 1 if len(groups) == 1 and n_columns > 1 else None),)
    if several_rows:
        most = min(most, most_columns)
    lines = []
    for group in groups:
        step = _step(group, most)
        for first in range(0, group.n_columns, step):
            lines.append(Line((group.part(first, first + step),), first + 1))
    return tuple(lines)


def _step(group: Group, most: int) -> int:
    """Columns a line: whole rounds or blocks of what alternates, else tens or fives, where that fits."""
    steps = []
    for row in group.bands:
        words = [band.words for band in row]
        if words[0] in words[1:]:
            steps.append(sum(band.n_columns for band in row[: words.index(words[0], 1)]))
        steps.append(row[0].n_columns)
    for step in (*sorted(steps, reverse=True), 10, 5):
        if 1 < step <= most:
            return most // step * step
    return most


def _head_mm(line: Line) -> float:
    bands = max(len(group.bands) for group in line.groups)
    titles = any(group.title for group in line.groups)
    return _HEADER_MM * (bands + titles + (line.first_number is not None))


def text_mm(words: str, size_pt: float, bold: bool = False) -> float:
    """Width of a line of text on paper."""
    return float(stringWidth(words, "Helvetica-Bold" if bold else "Helvetica", size_pt)) / POINTS_PER_MM


# --- drawing ---------------------------------------------------------------------------------


def draw(pen: Pen, table: Table, x_mm: float, y_mm: float) -> None:
    """Draw the table from its top left corner down."""
    y = y_mm
    for lines in table.sections:
        y = _section(pen, table, lines, x_mm, y)


def _section(pen: Pen, table: Table, lines: tuple[Line, ...], x_mm: float, y_mm: float) -> float:
    y, high = y_mm, table.box_mm[1]
    if table.shares_header(lines):
        y = _header(pen, table, lines[0], x_mm, y)
        for go in table.goes:
            _row(pen, table, lines[0], go, x_mm, y)
            y += high
        return y + _GAP_MM
    for go in table.goes:
        for number, line in enumerate(lines):
            y = _header(pen, table, line, x_mm, y)
            if go and number == 0 and len(table.plan.rows) > 1:
                pen.text(x_mm, y - 1.2, go, size_pt=_WORDS_PT, bold=True)
            for row in table.plan.rows:
                _row(pen, table, line, row or (go if number == 0 else ""), x_mm, y)
                y += high
            y += 2.0
        y += _GAP_MM
    return y


def _row(pen: Pen, table: Table, line: Line, name: str, x_mm: float, y_mm: float) -> None:
    wide, high = table.box_mm
    pen.text(x_mm, y_mm + high / 2 + 1.2, name, size_pt=_WORDS_PT, colour=GREY)
    outlines = []
    for group, x in zip(line.groups, _starts(table, line, x_mm), strict=True):
        outlines += [rectangle(x + column * wide, y_mm, wide, high) for column in range(group.n_columns)]
    pen.shapes(outlines, stroke=INK, width_mm=0.2)


def _starts(table: Table, line: Line, x_mm: float) -> list[float]:
    """Left edge of each group's boxes."""
    out, x = [], x_mm + table.label_mm
    for group in line.groups:
        out.append(x)
        x += group.n_columns * table.box_mm[0] + _GAP_MM
    return out


def _header(pen: Pen, table: Table, line: Line, x_mm: float, y_mm: float) -> float:
    """Stage, what alternates, numbers; returns the y of the boxes' upper edge."""
    wide = table.box_mm[0]
    bottom = y_mm + _head_mm(line)
    for group, x in zip(line.groups, _starts(table, line, x_mm), strict=True):
        y = bottom
        if line.first_number is not None:
            for column in range(group.n_columns):
                at, number = x + (column + 0.5) * wide, str(line.first_number + column)
                pen.text(at, y - 1.1, number, size_pt=_NUMBER_PT, colour=GREY, align="centre")
            y -= _HEADER_MM
        for row in reversed(group.bands):
            _band_row(pen, row, x, y, wide)
            y -= _HEADER_MM
        if group.title:
            pen.text(x, y - 1.1, group.title, size_pt=_WORDS_PT, bold=True)
    return bottom


def _band_row(pen: Pen, row: tuple[Band, ...], x_mm: float, y_mm: float, wide: float) -> None:
    x = x_mm
    for band in row:
        width = band.n_columns * wide
        if text_mm(band.words, _WORDS_PT) <= width:
            pen.text(x + width / 2, y_mm - 1.2, band.words, size_pt=_WORDS_PT, align="centre")
        if band.n_columns > 1:
            pen.line([[x + 0.6, y_mm - 0.3], [x + width - 0.6, y_mm - 0.3]], colour=GREY, width_mm=0.2)
        x += width
