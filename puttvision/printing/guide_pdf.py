"""The field guide: one page on where to put phone, sheets and gate, and what to mind.

Millimetres, y down from the paper's top left corner.
"""

from __future__ import annotations

from puttvision.printing.guide_drawing import draw_elevation, draw_picture, draw_plan
from puttvision.printing.paper import Paper
from puttvision.printing.pen import GREY, Pen

MARGIN_MM = 13.0
GAP_MM = 8.0
DRAWING_MM = 96.0
GREEN = "#1E4A33"
_BODY_PT = 11.5

LEFT_COLUMN = (
    (
        "Sheets",
        (
            "Print at <b>100 %</b> on matt white paper; the bar must measure <b>100.0 mm</b>.",
            "<b>Two different sheets:</b> one near the ball, one near the hole, flat on the green, "
            "30–50 cm (1–1½ ft) off the line. How they are turned does not matter.",
            "<b>Pin each with tees</b> through its four corners, so that no wind lifts it.",
        ),
    ),
    (
        "Phone",
        (
            "Landscape, tilted down. <b>Ball, gate, sheets and hole all in the picture</b>, "
            "with room beyond.",
            "<b>Main lens (1x), no zoom.</b> 1080p, <b>60 frames a second</b> or more.",
            "<b>Lock exposure and focus</b> on the green; <b>stabilisation off.</b>",
            "Flight mode on. Start filming, then <b>touch neither phone nor tripod.</b>",
        ),
    ),
)
RIGHT_COLUMN = (
    (
        "Light",
        (
            "<b>The sun never shines into the lens.</b>",
            "<b>No shadow on a sheet:</b> not yours, the player’s or the tripod’s.",
        ),
    ),
    (
        "Before you film",
        (
            "<b>Local rules come first.</b> Ask the club whether tees and sheets may go in a green; "
            "leave none behind.",
            "<b>Tripod and tees trip people.</b> Keep them off walkways, in plain sight.",
            "<b>Mind other players:</b> let them through, give way to balls in play.",
            "<b>Film people only with their consent;</b> minors only with their guardian’s.",
            "Practise under a licensed coach’s guidance where that applies.",
        ),
    ),
)


def guide_pdf(paper: Paper) -> bytes:
    """Make the field guide, one page."""
    pen = Pen(paper, "puttvision field guide")
    draw_guide(pen)
    return pen.finish()


def draw_guide(pen: Pen) -> None:
    """Draw the guide on the present page."""
    paper = pen.paper
    left, right = MARGIN_MM, paper.width_mm - MARGIN_MM
    width = right - left
    spare = paper.height_mm - 279.4
    pen.text(left, 20, "Filming putts", size_pt=28, bold=True, colour=GREEN)
    pen.text(right, 20, "puttvision field guide", size_pt=11, colour=GREY, align="right")
    pen.line([[left, 24.5], [right, 24.5]], colour=GREEN, width_mm=0.7)
    top = 31.5 + spare * 0.15
    plan_width = (width - GAP_MM) / 2
    aside = left + plan_width + GAP_MM
    aside_width = right - aside
    picture_height = aside_width * 9 / 16
    _heading(pen, left, top, "Where things stand")
    draw_plan(pen, left, top + 2.5, plan_width, DRAWING_MM)
    _heading(pen, aside, top, "What the phone sees")
    draw_picture(pen, aside, top + 2.5, aside_width)
    beside_top = top + 2.5 + picture_height + 8
    _heading(pen, aside, beside_top, "How high")
    draw_elevation(pen, aside, beside_top + 2.5, aside_width, top + DRAWING_MM - beside_top)
    words_top = top + 2.5 + DRAWING_MM + 12 + spare * 0.25
    column = (width - GAP_MM) / 2
    for x, blocks in ((left, LEFT_COLUMN), (left + column + GAP_MM, RIGHT_COLUMN)):
        y = words_top
        for heading, points in blocks:
            pen.text(x, y, heading, size_pt=15, bold=True, colour=GREEN)
            y += 3.0
            for point in points:
                y = pen.paragraph(x, y, column, point, size_pt=_BODY_PT, bullet="•", indent_mm=4) + 1.1
            y += 7.5 + spare * 0.1
    pen.text(left, paper.height_mm - 9, "Left-handed player: everything mirrored.", size_pt=9.5, colour=GREY)
    afterwards = "Afterwards, on the computer: puttvision measure CLIP --out FOLDER"
    pen.text(right, paper.height_mm - 9, afterwards, size_pt=9.5, colour=GREY, align="right")


def _heading(pen: Pen, x: float, y: float, words: str) -> None:
    pen.text(x, y, words, size_pt=11, bold=True, colour=GREEN)
