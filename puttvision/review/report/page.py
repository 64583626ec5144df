"""The report as one HTML file: no script, nothing from anywhere else, on screens and on paper."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

from puttvision import looks
from puttvision.card.headline import headline
from puttvision.drill import words
from puttvision.drill.rules import BOTH_HANDS
from puttvision.drill.scorecard import Scorecard
from puttvision.putts import Putt, PuttSheet
from puttvision.review import putt_words
from puttvision.review.report import figures, hole_plot, plots
from puttvision.review.report.advice import advice
from puttvision.review.report.changes import Change
from puttvision.review.report.set_up import setup
from puttvision.review.why_missed import why_missed

_DEFINITIONS = (
    (
        "Start line",
        "the direction in which the ball leaves, against the line from the ball to the middle of the gate, "
        "or of the hole where no gate stands.",
    ),
    (
        "Gate",
        "two posts ahead of the ball. Clear: through without touching. Touched: it met a post and went "
        "through. Outside: past it, or stopped by it.",
    ),
    (
        "At the hole",
        "how far from the middle the ball's path crossed the hole's line, and how fast it was there.",
    ),
    (
        "What the hole takes",
        "a ball dead centre drops at up to 1.63 m/s; the farther off the middle, the slower it must be. The "
        "dome in the picture is that limit.",
    ),
    (
        "Past or short",
        "where the ball came to rest; in brackets, for a holed one: where it would have, had the hole been "
        "covered.",
    ),
    (
        "Not seen",
        "the clip does not show where it ended, so it is neither made nor missed until a person says so.",
    ),
    (
        "Why a putt missed",
        "start line: it left on another line than this player's usual one from there. Pace: too firm for the "
        "hole, or it broke more or less than usual, or stopped short. Read: the usual line and pace do not "
        "belong together there. What is left over is bumps of the green and the film's own error.",
    ),
    (
        "± and 95 % interval",
        "if the same were measured again and again, 95 of 100 such intervals would hold the true figure. A "
        "change within it is no change.",
    ),
)


_UNBROKEN = re.compile(r"(?<=\d) (?=(?:%|mm|cm|m|m/s|ft|s|min)(?![\w/]))|(?<=\d) (?=±)|(?<=±) (?=\d)")
"""Spaces between a figure and its unit or its interval, at which no line may end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """Everything that goes on the page."""

    sheet: PuttSheet
    card: Scorecard | None
    player: str = ""
    day: str = ""
    changes: Sequence[Change] = ()
    before: str = ""
    """Which session the changes are against, in words."""
    advice: Sequence[str] = ()
    """What to practise next from all putts in the journal; shown below what this session suggests."""
    notes: Sequence[str] = ()


def html(report: Report) -> str:
    """The whole file."""
    this = figures.session(report.sheet.putts)
    title = _title(report)
    body = "\n".join(
        part
        for part in (
            _head(report),
            _facts(this),
            _unsure(report),
            _charts(report, this),
            _changes(report),
            _why(report),
            _next(report, this),
            _list("A word from the coach", report.notes) if report.notes else "",
            _scorecard(report),
            _setup(report),
            _definitions(),
        )
        if part
    )
    body = _UNBROKEN.sub("\N{NO-BREAK SPACE}", body)
    style = Path(__file__).with_name("style.css").read_text(encoding="utf-8")
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'; img-src data:\">\n"
        '<link rel="icon" href="data:,">\n'
        f"<title>{escape(title)}</title>\n<style>\n{looks.css()}{style}</style>\n</head>\n"
        f"<body>\n<main>\n{body}\n<footer>Written by puttvision{_source(report)}. "
        "Right and left as the player sees them from the ball."
        "</footer>\n</main>\n</body>\n</html>\n"
    )


def _title(report: Report) -> str:
    drill = report.card.rules.title if report.card else "Putting session"
    return ", ".join(part for part in (drill, report.player, report.day) if part)


def _source(report: Report) -> str:
    clip = report.sheet.clip
    return f" from {escape(clip.file)}" if clip else " from a hand-kept score"


def _head(report: Report) -> str:
    putts, clip = report.sheet.putts, report.sheet.clip
    drill = report.card.rules.title if report.card else "Putting session"
    who = " · ".join(escape(part) for part in (report.player, report.day) if part)
    facts = [words.several(len(putts), "putt")]
    if distance := figures.distance_words(putts):
        facts.append(f"from {distance}")
    if clip:
        facts.append(f"film of {words.minutes(clip.duration_s)}")
    score = ""
    if report.card:
        card = report.card
        line = headline(card)
        ended = "" if card.state == "running" else escape(card.what_next[:1].upper() + card.what_next[1:])
        score = f'<div class="score"><b>{escape(line.figure)}</b><span>{escape(line.caption)}</span></div>'
        if ended:
            facts.append(ended)
    return (
        f'<header><div><h1>{escape(drill)}</h1><p>{who}</p><p class="soft">{" · ".join(facts)}</p></div>'
        f"{score}</header>"
    )


def _facts(this: figures.Session) -> str:
    shown = figures.facts(this)
    if not shown:
        return ""
    cells = "".join(
        f'<div><dt>{escape(f.name)}</dt><dd><span class="v">{escape(f.value)}</span></dd>'
        f'<dd class="soft small">{escape(f.note)}</dd></div>'
        for f in shown
    )
    return f'<dl class="facts">{cells}</dl>'


# --- scorecard --------------------------------------------------------------------------------


def _scorecard(report: Report) -> str:
    putts, card = report.sheet.putts, report.card
    if not putts:
        return '<section><h2>Putt by putt</h2><p class="soft">No putt was seen.</p></section>'
    measured = any(putt_words.aim_error(putt)[0] for putt in putts)
    gated = any(putt.gate_result != "none" for putt in putts)
    ended = any(putt.run_out_m for putt in putts)
    columns = ["Putt", "Outcome"] + ["Start line"] * measured + ["Gate"] * gated
    columns += ["At the hole"] * measured + ["Past or short"] * ended + ["In the drill"] * (card is not None)
    rows = "".join(_row(putt, columns, report) for putt in putts)
    head = "".join(f'<th scope="col">{name}</th>' for name in columns)
    return (
        f'<section><h2>Putt by putt</h2><table class="putts"><thead><tr>{head}</tr></thead>'
        f"<tbody>{rows}</tbody></table></section>"
    )


def _unsure(report: Report) -> str:
    """Which putts a person should look at before the score counts."""
    items = [f"Putt {putt.number}: {text}" for putt in report.sheet.putts for text in putt.review]
    if not items:
        return ""
    rows = "".join(f'<li class="bad">{escape(item)}</li>' for item in items)
    return f'<section><h2>Look at these before the score counts</h2><ul class="checks">{rows}</ul></section>'


def _row(putt: Putt, columns: Sequence[str], report: Report) -> str:
    card = report.card
    line = next((line for line in card.lines if line.putt == putt.number), None) if card else None
    cells = {
        "Putt": f"<b>{putt.number}</b>{'&nbsp;▲' if putt.review else ''}",
        "Start line": escape(putt_words.degrees(putt_words.aim_error(putt)[0])),
        "Gate": _shape(putt.gate_result) + escape(_gate(putt, report.sheet)),
        "Outcome": _shape(putt.outcome) + escape(putt_words.call(putt)),
        "At the hole": escape(putt_words.crossing(putt)),
        "Past or short": escape(putt_words.run_out(putt)),
        "In the drill": escape(_happened(putt, report)),
    }
    kinds = ["look"] * bool(putt.review) + ["restart"] * bool(line and line.step.restarted)
    kind = f' class="{" ".join(kinds)}"' if kinds else ""
    data = "".join(f'<td data-label="{name}"><span>{cells[name]}</span></td>' for name in columns)
    return f"<tr{kind}>{data}</tr>"


def _shape(kind: str) -> str:
    return f'<svg viewBox="-1.4 -1.4 2.8 2.8" aria-hidden="true">{looks.svg_mark(kind, 0, 0, 1)}</svg>'


def _gate(putt: Putt, sheet: PuttSheet) -> str:
    text = putt_words.gate_call(putt, sheet.gate) or "no gate"
    return text.removeprefix("through the gate, ").replace(" inside the ", " from the ")


def _happened(putt: Putt, report: Report) -> str:
    card = report.card
    if card is None:
        return ""
    for number, why in card.set_aside:
        if number == putt.number:
            return f"set aside: {why}"
    for line in card.lines:
        if line.putt == putt.number:
            text = words.what_happened(card.rules, line)
            grip = line.step.setting.grip
            return text if grip == BOTH_HANDS or not grip else f"{text} ({grip})"
    return "after the drill's end"


# --- charts and lists -------------------------------------------------------------------------


def _charts(report: Report, this: figures.Session) -> str:
    putts = report.sheet.putts
    drawn = [
        (
            "Start lines, seen from above",
            f"One line a putt, against the {this.mark}. Whole lines were holed, broken ones not. The thick "
            "line is the mean, the tinted wedge its 95 % interval.",
            plots.start_fan(putts, report.sheet.gate, figures.line_mean(this)),
        ),
        (
            "At the hole",
            "Across: where the path crossed the hole's line, the hole to scale. Up: how fast. Inside the "
            "dome the hole takes the ball.",
            hole_plot.at_the_hole(putts),
        ),
        (
            "Pace",
            "Where putts came to rest, holed ones as they would have. The band runs to "
            f"{plots.GOOD_PAST_CM:.0f} cm past the hole.",
            plots.run_outs(putts),
        ),
        (
            "Start line, putt by putt",
            "With the 95 % interval of each. Does it drift, or widen when it counts?",
            plots.start_lines_in_order(putts),
        ),
        ("The drill as it went", "", plots.drill_in_order(report.card) if report.card else ""),
    ]
    found = [(name, note, svg) for name, note, svg in drawn if svg]
    if not found:
        return ""
    seen = {putt.outcome for putt in putts}
    key = "".join(
        f"<li>{_shape(kind)}{looks.MARKS[kind].word}</li>"
        for kind in ("holed", "missed", "unseen")
        if kind in seen
    )
    shown = "".join(
        f"<figure><h2>{name}</h2>{svg}{f'<figcaption>{escape(note)}</figcaption>' if note else ''}</figure>"
        for name, note, svg in found
    )
    return (
        f'<section><ul class="key" aria-label="Shapes">{key}</ul><div class="charts">{shown}</div></section>'
    )


def _changes(report: Report) -> str:
    if not report.changes:
        return ""
    rows = "".join(
        f"<tr><td>{escape(c.name)}</td><td class=whole>{escape(c.before)}</td>"
        f"<td class=whole>{escape(c.now)}</td>"
        f"<td>{escape(c.verdict)}</td></tr>"
        for c in report.changes
    )
    return (
        f'<section><h2>Against last time</h2><p class="soft">{escape(report.before)}</p><table><thead><tr>'
        '<th scope="col">Figure</th><th scope="col">Then</th><th scope="col">Now</th>'
        f'<th scope="col">Change</th></tr></thead><tbody>{rows}</tbody></table></section>'
    )


def _why(report: Report) -> str:
    """Causes of misses: the session as a whole, then each putt whose miss is told."""
    green = report.sheet.green
    if green is None and report.card is None:
        return ""
    found = why_missed(report.sheet.putts, report.card, green.stimp_ft.value if green else None)
    if not found.session:
        return ""
    whole = "".join(f"<p>{escape(text)}</p>" for text in found.session)
    rows = "".join(f"<li>Putt {number}: {escape(text)}</li>" for number, text in found.of_putt.items())
    each = f'<ul class="small">{rows}</ul>' if rows else ""
    return f"<section><h2>Why putts missed</h2>{whole}{each}</section>"


def _next(report: Report, this: figures.Session) -> str:
    own = _list("What to practise next", advice(this), ordered=True)
    if not report.advice:
        return own
    # a command stands between backquotes
    told = [re.sub("`([^`]+)`", r"<code>\1</code>", escape(item)) for item in report.advice]
    rows = "".join(f"<li>{item}</li>" for item in told)
    return own.removesuffix("</section>") + f"<h3>From all putts on record</h3><ul>{rows}</ul></section>"


def _list(title: str, items: Sequence[str], *, ordered: bool = False) -> str:
    tag = "ol" if ordered and len(items) > 1 else "ul"
    if len(items) == 1:
        return f"<section><h2>{title}</h2><p>{escape(items[0])}</p></section>"
    rows = "".join(f"<li>{escape(item)}</li>" for item in items)
    return f"<section><h2>{title}</h2><{tag}>{rows}</{tag}></section>"


def _setup(report: Report) -> str:
    rows = "".join(
        f'<li class="{"good" if check.good else "bad"}">{escape(check.text)}</li>'
        for check in setup(report.sheet, report.card)
    )
    return f'<section><h2>How good the set-up was</h2><ul class="checks">{rows}</ul></section>'


def _definitions() -> str:
    rows = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in _DEFINITIONS)
    return f'<section><h2>What the words mean</h2><dl class="words">{rows}</dl></section>'
