"""The page laid out for a terminal of any size: rows of (style, text). Pure.

What matters most gets its room first: the figure, what was asked, what the last putt did; then what
comes next; then the keys; the title last. Styles are names; `screen.py` says how they look.
"""

from __future__ import annotations

import re
import textwrap
from typing import TypeAlias

from puttvision.card.digits import big
from puttvision.card.view import View

Row: TypeAlias = list[tuple[str, str]]
"""Pieces of a row, each with the name of its style."""

_FIGURE_AND_UNIT = re.compile(r"[\d.]+ (?:ft|in|cm|mm|m|min|s|minutes?)\b")
_STUCK = "\N{NO-BREAK SPACE}"

_FIGURE_ROWS = 3
"""The figure never gets fewer rows than this while anything less needed is shown."""


def lay_out(view: View, width: int, height: int, blocks: bool = True) -> list[Row]:
    """Rows of the page, ``height`` of them, none wider than ``width``."""
    width, height = max(width, 10), max(height, 4)
    if view.alone:
        return _alone(view, width, height, blocks)
    head = _head(view, width)
    urgent = _urgent(view, width)
    middle = _next(view, width)
    keys = _keys(view, width)
    room = height - len(urgent)
    if view.begins:
        room -= len(head) + len(middle) + len(keys)
        return _fit([*head, *urgent], _begins(view, width, room), [*middle, *keys], height)
    foot: list[Row] = []
    for block in (keys, middle) if view.question else (middle, keys):
        if room - len(foot) - len(block) - 1 >= _FIGURE_ROWS + 1:
            pair = (foot, block) if block is keys else (block, foot)
            foot = [*pair[0], [], *pair[1]] if foot else block
    if room - len(foot) - len(head) < _FIGURE_ROWS + 1:
        head = []
    room -= len(foot) + len(head)
    return _fit([*head, *urgent], _figure(view, width, room, blocks), foot, height)


def help_pages(paragraphs: list[str], width: int, height: int) -> list[list[str]]:
    """The help wrapped and cut into pages of at most ``height - 1`` lines."""
    lines: list[str] = []
    for text in paragraphs:
        lead = text[: len(text) - len(text.lstrip())]
        lines += _wrapped(text, width, "   " if text[1:3] == "  " else lead) or [""]
    rows = max(height - 1, 1)
    return [lines[i : i + rows] for i in range(0, len(lines), rows)]


def _fit(top: list[Row], middle: list[Row], foot: list[Row], height: int) -> list[Row]:
    """``middle`` centred between the other two; what does not fit is cut off its end."""
    foot = foot[: max(height - len(top), 0)]
    room = max(height - len(top) - len(foot), 0)
    middle = middle[:room]
    above = (room - len(middle)) // 2
    spare: list[Row] = [[] for _ in range(room - len(middle))]
    return [*top, *spare[:above], *middle, *spare[above:], *foot][:height]


def _alone(view: View, width: int, height: int, blocks: bool) -> list[Row]:
    """One putt to go: the figure and nothing else, but for a clock that counts, a change of place, and
    what a putt half told still lacks."""
    clock: list[Row] = [[("clock", view.clock.rjust(width - 1))]] if view.clock else []
    if view.clock_stands:
        clock = [_centred("alarm", "PAUSED: space goes on", width)]
    if view.note:
        clock = [_centred("note", view.note, width)]
    foot = [_centred("next", line, width) for line in _wrapped(view.next, width)]
    if view.question:
        clock += _bar("question", view.question, width)
        foot = _keys(view, width)
    room = height - len(clock) - len(foot)
    return _fit(clock, _figure(view, width, room, blocks), foot, height)


def _figure(view: View, width: int, room: int, blocks: bool) -> list[Row]:
    caption = [_centred("caption", line, width) for line in _wrapped(view.caption, width)]
    gap: list[Row] = [[]] if room - len(caption) > _FIGURE_ROWS + 1 else []
    rows = big(view.figure, width - 2, max(room - len(caption) - len(gap), 1), blocks)
    return [*(_centred("figure", row, width) for row in rows), *gap, *caption]


def _head(view: View, width: int) -> list[Row]:
    room = width - len(view.clock) - 2
    title = view.title if len(view.title) <= room else view.title[: max(room - 1, 0)].rstrip() + "."
    gap = max(width - 1 - len(title) - len(view.clock), 1)
    return [[("title", title), ("", " " * gap), ("clock", view.clock)]]


def _urgent(view: View, width: int) -> list[Row]:
    """Bars across the page, and lines that answer the last key."""
    rows: list[Row] = []
    if view.clock_stands:
        rows += _bar("alarm", "PAUSED: space goes on", width)
    if view.stake:
        rows += _bar("stake", f"At stake: {view.stake}", width)
    if view.ended:
        rows += _bar("good" if view.finished else "alarm", "FINISHED" if view.finished else "OVER", width)
    if view.bites:
        rows += _bar("alarm", view.happened, width)
        rows += _bar("alarm", view.forfeit, width) if view.forfeit else []
    elif view.happened and not view.ended:
        rows += [_centred("happened", line, width) for line in _wrapped(view.happened, width)]
    if view.question:
        rows += _bar("question", view.question, width)
    if view.note:
        rows += [_centred("note", line, width) for line in _wrapped(view.note, width)]
    return rows


def _next(view: View, width: int) -> list[Row]:
    text = view.next[:1].upper() + view.next[1:]
    return [[("changes" if view.changes else "next", f" {line}")] for line in _wrapped(text, width)]


def _begins(view: View, width: int, room: int) -> list[Row]:
    rows: list[Row] = []
    for text in view.begins:
        rows += [[("next", f" {line}")] for line in _wrapped(text, width)] + [[]]
    rows = rows[:-1]
    if len(rows) <= room:
        return [*rows, []] if len(rows) < room else rows
    return [*rows[: max(room - 2, 0)], [("changes", " ... the rest: ?")], []]


def _keys(view: View, width: int) -> list[Row]:
    """The legend, as many keys a row as fit."""
    rows: list[Row] = []
    used = width
    for letter, says in view.legend:
        size = len(letter) + len(says) + 3
        if used + size > width:
            rows.append([("", " ")])
            used = 1
        rows[-1] += [("key", letter), ("legend", f" {says}  ")]
        used += size
    return rows


def _bar(style: str, text: str, width: int) -> list[Row]:
    return [[(style, line.center(width - 1))] for line in _wrapped(text, width)]


def _centred(style: str, text: str, width: int) -> Row:
    return [("", " " * max((width - len(text)) // 2, 0)), (style, text)]


def _wrapped(text: str, width: int, indent: str = "") -> list[str]:
    """Lines of ``text``; a figure and its unit stay together."""
    whole = _FIGURE_AND_UNIT.sub(lambda match: match[0].replace(" ", _STUCK), text)
    lines = textwrap.wrap(whole, max(width - 3, 8), subsequent_indent=indent)
    return [line.replace(_STUCK, " ") for line in lines]
