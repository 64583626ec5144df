"""A score card on paper, one page: the rules in words, boxes to tick, room for what was at stake.

Millimetres, y down from the paper's top left corner.
"""

from __future__ import annotations

from dataclasses import replace
from xml.sax.saxutils import escape

from puttvision.drill import catalogue
from puttvision.drill.describe import describe
from puttvision.drill.rules import Rules
from puttvision.drill.words import minutes
from puttvision.printing.card_plan import plan
from puttvision.printing.card_table import Table, draw, lay_out, text_mm
from puttvision.printing.paper import Paper
from puttvision.printing.pen import GREY, Pen

MARGIN_MM = 14.0
GREEN = "#1E4A33"
_FOOT_MM = 30.0
"""Room for the result and the last line."""
_WORDS_PT = (13.5, 12.5, 11.5, 10.5, 9.5)
"""Sizes the words are tried in, until the boxes have room enough."""
_TITLE_PT = (26.0, 20.0, 16.0, 13.0)


def card_pdf(rules: Rules, paper: Paper) -> bytes:
    """Make the card of a drill, the options in force."""
    boxes = plan(rules)
    bottom = paper.height_mm - _FOOT_MM
    for size_pt in _WORDS_PT:
        top = _words(Pen(paper, ""), rules, size_pt)
        table = lay_out(boxes, paper.width_mm - 2 * MARGIN_MM, bottom - top)
        if table.is_whole:
            break
    pen = Pen(paper, f"{rules.title}: score card")
    top = _words(pen, rules, size_pt)
    draw(pen, table, MARGIN_MM, top)
    _foot(pen, rules, table)
    return pen.finish()


def _words(pen: Pen, rules: Rules, size_pt: float) -> float:
    """Everything above the boxes; returns the y where they may begin."""
    left, right = MARGIN_MM, pen.paper.width_mm - MARGIN_MM
    title_pt = next((pt for pt in _TITLE_PT if text_mm(rules.title, pt, bold=True) <= right - left), 13.0)
    title = _cut(rules.title, title_pt, right - left)
    pen.text(left, 22, title, size_pt=title_pt, bold=True, colour=GREEN)
    pen.text(right, 12, "puttvision score card", size_pt=9.5, colour=GREY, align="right")
    pen.line([[left, 26.5], [right, 26.5]], colour=GREEN, width_mm=0.7)
    y = 36.5
    third = (right - left) / 3
    if rules.two_players:
        _field(pen, left, y, 2 * third - 5, "Players", " / ".join(rules.options.players or ()))
    else:
        _field(pen, left, y, 2 * third - 5, "Player")
    _field(pen, left + 2 * third, y, third, "Date")
    y += 11
    mark = rules.clock.beat_s or rules.clock.limit_s
    _field(pen, left, y, third - 5, "Began")
    _field(pen, left + third, y, third - 5, "Ended")
    if mark is not None:
        kind = "to beat" if rules.clock.beat_s is not None else "at most"
        _field(pen, left + 2 * third, y, third, "Clock", f"{kind} {minutes(mark)}")
    else:
        _field(pen, left + 2 * third, y, third, "Green")
    y += 11
    _field(pen, left, y, right - left, "At stake", rules.stake)
    y += 11
    _field(pen, left, y, right - left, "Forfeit", "; ".join(_forfeits(rules)))
    y += 5.5
    for sentence in describe(replace(rules, stake="")):
        indent = 5.0 if sentence.startswith("  ") else 0.0
        y = pen.paragraph(left + indent, y, right - left - indent, escape(sentence.strip()), size_pt=size_pt)
        y += 0.35 * size_pt / 10
    if rules.setup:
        y = pen.paragraph(left, y + 1.5, right - left, escape(rules.setup), size_pt=size_pt - 1, colour=GREY)
    return y + 5


def _forfeits(rules: Rules) -> list[str]:
    texts = [stage.forfeit for stage in rules.stages]
    texts += [fault.forfeit for stage in rules.stages for fault in stage.faults]
    return list(dict.fromkeys(text for text in texts if text))


def _field(pen: Pen, x: float, y: float, width: float, name: str, words: str = "") -> None:
    """A name and a line to write on, or the words that stand on it."""
    pen.text(x, y, name, size_pt=10.5, colour=GREY)
    start = x + text_mm(name, 10.5) + 2.0
    if words:
        pen.text(start + 1, y, _cut(words, 12, x + width - start - 1), size_pt=12, bold=True)
    pen.line([[start, y + 1.2], [x + width, y + 1.2]], colour=GREY, width_mm=0.2)


def _cut(words: str, size_pt: float, room_mm: float) -> str:
    """The words, cut where they would run over."""
    words = " ".join(words.split())
    if text_mm(words, size_pt, bold=True) <= room_mm:
        return words
    while words and text_mm(words + " ...", size_pt, bold=True) > room_mm:
        words = words[:-1].rstrip()
    return words + " ..."


def _foot(pen: Pen, rules: Rules, table: Table) -> None:
    left, right = MARGIN_MM, pen.paper.width_mm - MARGIN_MM
    y = pen.paper.height_mm - 20
    names = ["Points"] if rules.gives_points and not rules.two_players else ["Putts"]
    names += ["Winner"] if rules.two_players else ["Starts again"] if not table.plan.goes else ["Made"]
    names.append("Finished")
    width = (right - left) / len(names)
    for place, name in enumerate(names):
        _field(pen, left + place * width, y, width - (5 if place < len(names) - 1 else 0), name)
    pen.text(left, pen.paper.height_mm - 12.5, _how(table), size_pt=9.5, colour=GREY)
    pen.text(left, pen.paper.height_mm - 8, _later(rules), size_pt=9.5, colour=GREY)


def _how(table: Table) -> str:
    if table.n_left_out:
        return f"{table.n_left_out} putts more: take a second card."
    tick = "Tick what was made, cross what was missed"
    return f"{tick}; start again in the next row." if not table.plan.goes else f"{tick}."


def _later(rules: Rules) -> str:
    """The command that takes the ticks in; empty for a drill of one's own, whose file nobody knows here."""
    if rules.name not in catalogue.names():
        return ""
    options = rules.options
    words = [f"--{name} {value}" for name in ("target", "putts", "seed") if (value := getattr(options, name))]
    words += ["--strict"] if options.strict else []
    return " ".join(["Into the computer: puttvision card", rules.name, *words])
