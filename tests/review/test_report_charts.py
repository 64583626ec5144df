"""The report's charts: marks stand where the figures say, each kind with its own shape; none is left out."""

import math
import random
import re
import xml.etree.ElementTree as ET

import pytest
import report_setting as setting

from puttvision import looks
from puttvision.coaching.intervals import TooFew
from puttvision.drill.catalogue import load
from puttvision.drill.scorecard import score
from puttvision.putts import Figure, Putt
from puttvision.review.report import figures, hole_plot, plots
from puttvision.review.report.svg import WIDTH, Chart, ticks

PUTTS = setting.putts()


def marks(svg):
    """(kind, x, y) of every mark of an outcome."""
    root = ET.fromstring(svg)
    shapes = {(looks.MARKS[k].svg, looks.MARKS[k].colour): k for k in ("holed", "missed", "unseen")}
    out = []
    for path in root.iter("path"):
        move = re.match(r"translate\(([-\d.]+) ([-\d.]+)\)", path.get("transform", ""))
        if move:
            kind = shapes[path.get("d"), re.search(r"--(\w+)", path.get("stroke"))[1]]
            out.append((kind, float(move[1]), float(move[2])))
    return out


@pytest.mark.parametrize(
    ("low", "high", "about"), [(0, 1.8, 4), (-120, 120, 4), (0, 4, 4), (-0.02, 0.03, 5), (0, 983, 6)]
)
def test_ticks_are_round_and_inside(low, high, about):
    found = ticks(low, high, about)
    assert all(low - 1e-9 <= value <= high + 1e-9 for value in found)
    assert 2 <= len(found) <= 2 * about + 1
    step = found[1] - found[0]
    digits = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(digits - d) for d in (1, 2, 5, 10)) < 1e-6


def test_scales_run_the_right_way():
    chart = Chart("c", x=(0, 10), y=(0, 5), height=200, margin=(10, 20, 30, 40))
    assert (chart.x(0), chart.x(10)) == (40, WIDTH - 20)
    assert (chart.y(0), chart.y(5)) == (170, 10)


def test_at_the_hole_every_putt_stands_at_its_offset_and_speed():
    svg = hole_plot.at_the_hole(PUTTS)
    crossed = [p for p in PUTTS if p.hole_offset_mm]
    found = marks(svg)
    assert len(found) == len(crossed)
    # two putts give the scale, all others must lie on it
    xs = [(p.hole_offset_mm.value, x) for p, (_, x, _) in zip(crossed, found, strict=True)]
    ys = [(p.speed_at_hole_m_s.value, y) for p, (_, _, y) in zip(crossed, found, strict=True)]
    for pairs, sign in ((xs, 1), (ys, -1)):
        (v0, at0), (v1, at1) = min(pairs), max(pairs)
        per = (at1 - at0) / (v1 - v0)
        assert per * sign > 0, "right is right, fast is up"
        assert all(abs(at0 + per * (v - v0) - at) < 0.1 for v, at in pairs)
    assert [kind for kind, _, _ in found] == [p.outcome for p in crossed]


def test_the_dome_is_the_capture_limit_and_the_hole_is_to_scale():
    chart = ET.fromstring(hole_plot.at_the_hole(PUTTS))
    hole = next(chart.iter("rect"))
    dome = next(
        p for p in chart.iter("path") if p.get("fill") == "var(--good)" and "fill-opacity" in p.attrib
    )
    points = [tuple(map(float, pair.split())) for pair in re.findall(r"[-\d.]+ [-\d.]+", dome.get("d"))]
    width = max(x for x, _ in points) - min(x for x, _ in points)
    assert width == pytest.approx(float(hole.get("width")), abs=0.3)  # at no speed all of its 108 mm
    # Holmes 1991: half the hole off the middle at 3/4 of 1.63 m/s (Penner 2002, Eq. 23: 1 - (d/R)^2)
    base, top = max(y for _, y in points), min(y for _, y in points)
    at = base - 0.75 * (base - top)
    near = min(
        (p for p in points if p[0] > sum(x for x, _ in points) / len(points)), key=lambda p: abs(p[1] - at)
    )
    middle = float(hole.get("x")) + width / 2
    assert (near[0] - middle) / (width / 2) == pytest.approx(0.5, abs=0.03)


def test_a_putt_far_off_is_named_at_the_edge():
    wild = Putt(
        number=9, outcome="missed", hole_offset_mm=Figure(640.0, 9.0), speed_at_hole_m_s=Figure(0.9, 0.1)
    )
    svg = hole_plot.at_the_hole([*PUTTS, wild])
    assert "9: 64 cm off" in svg
    assert max(x for _, x, _ in marks(svg)) <= WIDTH


def test_start_fan_leans_as_the_putts_do():
    mean = figures.line_mean(figures.session(PUTTS))
    found = marks(plots.start_fan(PUTTS, setting.sheet().gate, mean))
    assert len(found) == len(PUTTS)
    order = sorted(range(len(PUTTS)), key=lambda k: PUTTS[k].start_direction_to_gate_deg.value)
    xs = [found[k][1] for k in order]
    assert xs == sorted(xs)
    assert f"mean {abs(mean.value):.2f}° right" in plots.start_fan(PUTTS, None, mean)


def test_run_outs_zero_is_the_hole():
    svg = plots.run_outs(PUTTS)
    zero = float(next(t for t in ET.fromstring(svg).iter("text") if t.text == "hole").get("y")) - 4
    known = [p for p in PUTTS if p.run_out_m]
    for putt, (_, _, y) in zip(known, marks(svg), strict=True):
        assert (y < zero) == (putt.run_out_m.value > 0)


@pytest.mark.parametrize("drill", ["ball-gate-points", "head-gate-streak", "nine-six-three"])
def test_the_drill_shows_every_counted_putt_and_every_restart(drill):
    card = score(load(drill), PUTTS)
    svg = plots.drill_in_order(card)
    assert len(marks(svg)) == len(card.lines)
    dashed = [p for p in ET.fromstring(svg).iter("path") if p.get("stroke-dasharray") == "3 4"]
    assert len(dashed) == sum(line.step.restarted for line in card.lines)


def test_charts_without_figures_are_left_out():
    by_hand = [Putt(number=1, outcome="holed"), Putt(number=2, outcome="missed")]
    assert plots.start_fan(by_hand, None, TooFew(n=0, needed=2)) == ""
    assert (
        hole_plot.at_the_hole(by_hand) == plots.run_outs(by_hand) == plots.start_lines_in_order(by_hand) == ""
    )


def test_no_colour_is_invented():
    svg = hole_plot.at_the_hole(PUTTS) + plots.run_outs(PUTTS) + plots.start_lines_in_order(PUTTS)
    assert not re.search(r"#[0-9a-fA-F]{3,6}\b", svg)
    known = set(re.findall(r"--([a-z-]+):", looks.css()))
    assert set(re.findall(r"var\(--([a-z-]+)\)", svg)) <= known


@pytest.mark.parametrize("spread_deg", [0.3, 0.9, 1.9, 2.2, 3.6, 4.4, 9.0, 22.0])
def test_start_lines_in_order_have_a_scale_at_any_spread(spread_deg):
    putts = [
        Putt(number=k, outcome="missed", start_direction_to_hole_deg=Figure(error, 0.2))
        for k, error in enumerate((-spread_deg, 0.1, spread_deg), 1)
    ]
    for svg in (plots.start_lines_in_order(putts), plots.start_fan(putts, None, TooFew(n=0, needed=2))):
        said = [t.text for t in ET.fromstring(svg).iter("text")]
        assert any(re.fullmatch(r"[\d.]+° right", text) for text in said)
        assert any(re.fullmatch(r"[\d.]+° left", text) for text in said)


def test_numbers_beside_marks_run_into_nothing():
    rng = random.Random(3)
    close = [
        Putt(
            number=k, outcome="holed", hole_offset_mm=Figure(rng.gauss(5, 9), 3.0),
            speed_at_hole_m_s=Figure(rng.gauss(0.65, 0.12), 0.02),
        )
        for k in range(1, 13)
    ]  # fmt: skip
    svg = hole_plot.at_the_hole(close)
    at = {t.text: (float(t.get("x")), float(t.get("y"))) for t in ET.fromstring(svg).iter("text")}
    numbers = [at[str(k)] for k in range(1, 13) if str(k) in at]
    assert len(numbers) >= 6
    for i, (x, y) in enumerate(numbers):
        assert all(abs(x - mx) > 7 or not -6 < y - my < 16 for _, mx, my in marks(svg))
        assert all(abs(x - ox) > 7 or abs(y - oy) > 9 for ox, oy in numbers[:i])
