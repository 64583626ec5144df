"""The report's charts: start lines from above and in order, run-out, the drill along time.

Every chart says on itself what is what; each outcome has its own shape as well as its colour.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from puttvision.coaching.intervals import Estimate, TooFew
from puttvision.drill.scorecard import Scorecard
from puttvision.drill.tally import points_text
from puttvision.physics import HOLE_RADIUS_M
from puttvision.putts import Gate, Putt
from puttvision.review import putt_words
from puttvision.review.report.svg import BODY, WIDTH, Chart, putt_numbers, ticks

GOOD_PAST_CM = 45.0
"""As far past is good pace: common practice, no source."""


def _side(value: float, unit: str, digits: int = 0) -> str:
    if abs(value) < 0.5 * 10**-digits:
        return f"0{unit}"
    return f"{abs(value):.{digits}f}{unit} {putt_words.side(value)}"


# --- start lines ------------------------------------------------------------------------------


def start_fan(putts: Sequence[Putt], gate: Gate | None, mean: Estimate | TooFew) -> str:
    """Start lines seen from above, the ball below, the hole above; sideways enlarged. Empty without any."""
    with_line = [putt for putt in putts if putt_words.aim_error(putt)[0]]
    if not with_line:
        return ""
    errors = [putt_words.aim_error(putt)[0].value or 0.0 for putt in with_line]
    told = [f"putt {p.number} {_side(e, ' degrees', 1)}" for p, e in zip(with_line, errors, strict=True)]
    mark = putt_words.aim_error(with_line[0])[1]
    lengths = [putt.hole_distance_m.value for putt in with_line if putt.hole_distance_m.value]
    length = float(np.median(lengths)) if lengths else 3.0
    most = max(1.0, math.ceil(2 * max(map(abs, errors))) / 2)
    chart = Chart(
        f"Start lines of {len(with_line)} putts seen from above, against the {mark}: {', '.join(told)}",
        x=(-most, most), y=(0.0, 1.0), height=370, margin=(58, 26, 46, 26),
    )  # fmt: skip
    chart.area([(-most, 0), (most, 0), (most, 1), (-most, 1)], "turf", 1.0)
    reach = math.degrees(math.atan(HOLE_RADIUS_M / length))
    if mark == "hole":
        chart.area([(0, 0), (-reach, 1), (reach, 1)], "card", 0.55)
    chart.line([(0, 0), (0, 1)], "turf-ink", 1.5, dash="6 5")
    if isinstance(mean, Estimate):
        chart.area([(0, 0), (max(mean.low, -most), 1), (min(mean.high, most), 1)], "accent", 0.16)
    for putt, error in zip(with_line, errors, strict=True):
        colour = {"holed": "good", "missed": "bad", "unseen": "unsure"}[putt.outcome]
        chart.line(
            [(0, 0), (error, 1)], colour, 1.6, opacity=0.75, dash="" if putt.outcome == "holed" else "5 4"
        )
    _posts(chart, gate, length, most)
    for putt, error in zip(with_line, errors, strict=True):
        chart.mark(putt.outcome, error, 1, tip=f"putt {putt.number}: {_side(error, '°', 1)}")
    if isinstance(mean, Estimate):
        chart.line([(0, 0), (mean.value, 1)], "ink", 2.6)
        x = min(max(chart.x(mean.value), 95), WIDTH - 95)
        chart.label_at(f"mean {_side(mean.value, '°', 2)}", x, 16, colour="ink", size=BODY, bold=True)
        # as far as the degrees' words: it would run through one
        chart.path(f"M{x:.1f} 21L{chart.x(mean.value):.1f} {chart.top - 25:.1f}", "ink", 1.0)
    base = chart.height - chart.bottom
    chart.parts.append(
        f'<circle cx="{chart.x(0):.1f}" cy="{base:.1f}" r="7" fill="var(--card)" stroke="var(--ink)" '
        'stroke-width="1.5"/>'
    )
    chart.label_at("ball", chart.x(0) + 16, base + 5, anchor="start", colour="ink")
    for value in ticks(-most, most):
        chart.path(f"M{chart.x(value):.1f} {chart.top:.1f}v-4", "soft", 1.0)
        chart.label_at(_side(value, "°", 1 if value % 1 else 0), chart.x(value), chart.top - 12)
    tall, wide = chart.height - chart.top - chart.bottom, WIDTH - chart.left - chart.right
    enlarged = wide / (2 * most) / math.radians(1.0) / tall
    chart.label_at(
        f"{length:.1f} m up the page; sideways {enlarged:.0f} times enlarged", WIDTH / 2, chart.height - 8
    )
    return chart.svg()


def _posts(chart: Chart, gate: Gate | None, length: float, most: float) -> None:
    """The gate's posts, as far apart as they look from the ball's place."""
    if gate is None or gate.width_mm.value is None or not gate.distance_m.value:
        return
    up = gate.distance_m.value / length
    half = math.degrees(math.atan(gate.width_mm.value / 2000 / gate.distance_m.value)) * up
    if half > most or not 0 < up < 1:
        return
    for x in (-half, half):
        chart.path(f"M{chart.x(x):.1f} {chart.y(up) + 5:.1f}v-10", "ink", 4.0)
    chart.words("gate", half, up, dx=8, dy=4, anchor="start", colour="ink")


# --- pace -------------------------------------------------------------------------------------


def run_outs(putts: Sequence[Putt]) -> str:
    """How far past or short of the hole each putt went or would have gone. Empty without any."""
    if not any(putt.run_out_m for putt in putts):
        return ""
    values = [100 * putt.run_out_m.value for putt in putts if putt.run_out_m.value is not None]
    low = min(-40.0, 1.1 * min(values))
    high = max(90.0, 1.1 * max(values))
    chart = Chart(
        "How far past the hole each putt went or would have gone: "
        + ", ".join(f"putt {p.number} {_run_words(p)}" for p in putts if p.run_out_m),
        x=(0.5, len(putts) + 0.5), y=(low, high), height=280, margin=(26, 14, 40, 64),
    )  # fmt: skip
    chart.area([(0.5, 0), (len(putts) + 0.5, 0), (len(putts) + 0.5, GOOD_PAST_CM), (0.5, GOOD_PAST_CM)],
               "good", 0.12)  # fmt: skip
    at = [v for v in ticks(low, high, 5) if v != 0]
    chart.grid_y(at, [f"{abs(v):g} cm" for v in at])
    chart.line([(0.5, 0), (len(putts) + 0.5, 0)], "ink", 1.8)
    chart.label_at("hole", chart.left - 6, chart.y(0) + 4, anchor="end", colour="ink", bold=True)
    chart.label_at("past ↑", chart.left - 6, 12, anchor="end")
    chart.label_at("short ↓", chart.left - 6, chart.height - chart.bottom + 17, anchor="end")
    for k, putt in enumerate(putts, start=1):
        figure = putt.run_out_m
        if figure.value is None:
            continue
        y = 100 * figure.value
        if figure.u95:
            chart.line(
                [(k, max(low, y - 100 * figure.u95)), (k, min(high, y + 100 * figure.u95))], "soft", 1.2
            )
        chart.mark(
            putt.outcome, k, y, 5.0 if len(putts) < 40 else 3.5, tip=f"putt {putt.number}: {_run_words(putt)}"
        )
    putt_numbers(chart, [putt.number for putt in putts])
    return chart.svg()


def _run_words(putt: Putt) -> str:
    value = putt.run_out_m.value or 0.0
    would = "would have gone " if putt.outcome == "holed" and value > 0 else ""
    return f"{would}{putt_words.length(1000 * value)} {'past' if value >= 0 else 'short'}"


# --- along the drill --------------------------------------------------------------------------


def start_lines_in_order(putts: Sequence[Putt]) -> str:
    """Each putt's start line with its interval, in the order played. Empty without any."""
    errors = [putt_words.aim_error(putt)[0] for putt in putts]
    known = [abs(e.value) + min(e.u95 or 0.0, 1.0) for e in errors if e.value is not None]
    if not known:
        return ""
    most = max(1.0, 1.1 * max(known))
    mark = next(putt_words.aim_error(p)[1] for p in putts if putt_words.aim_error(p)[0])
    chart = Chart(
        f"Start line of each putt against the {mark}, in the order played",
        x=(0.5, len(putts) + 0.5), y=(-most, most), height=230, margin=(14, 14, 40, 64),
    )  # fmt: skip
    at = [v for v in ticks(-most, most) if v != 0]
    # right is drawn above: the words say so at every line
    chart.grid_y(at, [_side(v, "°", 1 if v % 1 else 0) for v in at])
    chart.line([(0.5, 0), (len(putts) + 0.5, 0)], "ink", 1.8)
    chart.label_at(mark, chart.left - 6, chart.y(0) + 4, anchor="end", colour="ink", bold=True)
    for k, (putt, error) in enumerate(zip(putts, errors, strict=True), start=1):
        if error.value is None:
            continue
        if error.u95:
            ends = [min(max(error.value + s * error.u95, -most), most) for s in (-1, 1)]
            chart.line([(k, end) for end in ends], "soft", 1.2)
        chart.mark(putt.outcome, k, error.value, 5.0 if len(putts) < 40 else 3.5,
                   tip=f"putt {putt.number}: {putt_words.degrees(error)}")  # fmt: skip
    putt_numbers(chart, [putt.number for putt in putts])
    return chart.svg()


def drill_in_order(card: Scorecard) -> str:
    """The drill as it went: points so far, or putts in a row, with restarts. Empty before the first."""
    lines = card.lines
    if not lines or len(card.totals) > 1:
        return ""
    by_points = card.rules.gives_points
    heights = [line.points / 100 if by_points else float(line.streak) for line in lines]
    stages = card.rules.stages
    target = stages[0].make if len(stages) == 1 and not by_points else None
    top = max([1.0, *heights, *([float(target)] if target and target <= 3 * max([1.0, *heights]) else [])])
    low = min(0.0, *heights)
    unit = "points so far" if by_points else "made in a row"
    chart = Chart(
        f"The drill putt by putt, {unit}: " + ", ".join(f"{h:g}" for h in heights),
        x=(0.5, len(lines) + 0.5), y=(low, 1.12 * top), height=246, margin=(38, 14, 40, 48),
    )  # fmt: skip
    whole = [v for v in ticks(low, top, 4) if v == int(v)]
    chart.grid_y(whole, [f"{v:g}" for v in whole])
    chart.label_at(unit, chart.left - 40, 12, anchor="start")
    if target and target <= top:
        chart.line([(0.5, target), (len(lines) + 0.5, target)], "ink", 1.4, dash="6 5")
        chart.words(f"{target} to make", len(lines) + 0.5, target, dy=-5, anchor="end", colour="ink")
    wide = min(0.8, 0.8 * 30 / max(len(lines), 1)) if len(lines) > 30 else 0.7
    for k, (line, height) in enumerate(zip(lines, heights, strict=True), start=1):
        good = line.step.kind == "made" or line.step.points > 0
        if height:
            chart.area([(k - wide / 2, 0), (k + wide / 2, 0), (k + wide / 2, height), (k - wide / 2, height)],
                       "good" if good else "rule", 0.45 if good else 1.0)  # fmt: skip
        kind = "holed" if line.step.holed else "missed"
        size = 5.0 if len(lines) < 40 else 2.8
        chart.mark(
            kind,
            k,
            height,
            size,
            tip=f"putt {line.putt}: {points_text(line.step.points)}" if by_points else "",
        )
    _breaks(chart, card, low, 1.12 * top)
    putt_numbers(chart, [line.putt for line in lines])
    return chart.svg()


def _breaks(chart: Chart, card: Scorecard, low: float, high: float) -> None:
    """Broken lines where the drill began again, fine ones where its next stage began."""
    labelled = {True: -math.inf, False: -math.inf}
    lines = card.lines
    for k, line in enumerate(lines, start=1):
        after = lines[k].step.stage if k < len(lines) else line.step.stage
        again = line.step.restarted
        if not again and after <= line.step.stage:
            continue
        colour, dash = ("bad", "3 4") if again else ("soft", "")
        chart.line([(k + 0.5, low), (k + 0.5, high)], colour, 1.2, dash=dash)
        if chart.x(k) - labelled[again] > 56:  # words that would run together are left out
            words, anchor = ("restart", "end") if again else (f"stage {after + 1}", "start")
            dx, dy = (-4, 10) if again else (0, -5)
            chart.words(words, k + 0.5, high, dx=dx, dy=dy, anchor=anchor, colour=colour)
            labelled[again] = chart.x(k)
