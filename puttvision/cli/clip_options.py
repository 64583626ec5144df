"""What a person may say of a clip: declared once for every command that measures one."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from puttvision.putt.measure import Options

Hole = Annotated[
    str | None,
    typer.Option(
        "--hole",
        metavar="U,V",
        help="The hole's middle, in pixels of the upright picture, where it is not found.",
    ),
]
Gate = Annotated[
    tuple[str, str] | None,
    typer.Option(
        "--gate",
        metavar="U,V U,V",
        help="The feet of the ball gate's two posts, in pixels, where not found.",
    ),
]
NoGate = Annotated[bool, typer.Option("--no-gate", help="No ball gate stands, whatever looks like one.")]
SheetCorners = Annotated[
    list[str] | None,
    typer.Option(
        "--sheet",
        metavar="ID:U,V U,V U,V U,V",
        help="A sheet's corners, in quotes: top left, top right, bottom right, bottom left.",
    ),
]
CaptureRate = Annotated[
    float | None,
    typer.Option(
        "--capture-rate",
        metavar="HZ",
        help="Frames a second the phone took, where a slow-motion file plays slower.",
    ),
]


def parse_options(
    hole: str | None,
    gate: tuple[str, str] | None,
    no_gate: bool,
    capture_rate: float | None,
    sheets: Sequence[str] | None = None,
) -> Options:
    """Turn the words of the command line into options; a wrong word is a usage error (exit code 2)."""
    from puttvision.putt.measure import Options

    if gate is not None and no_gate:
        raise typer.BadParameter("--gate and --no-gate exclude each other")
    if capture_rate is not None and not 1 <= capture_rate <= 2000:
        raise typer.BadParameter(f"--capture-rate: frames a second, 1 to 2000, got {capture_rate:g}")
    return Options(
        hole_px=None if hole is None else pixel(hole, "--hole"),
        gate_px=None if gate is None else (pixel(gate[0], "--gate"), pixel(gate[1], "--gate")),
        sheet_px=dict(sheet_corners(text) for text in sheets or ()),
        no_gate=no_gate,
        capture_rate_hz=capture_rate,
    )


def sheet_corners(text: str) -> tuple[int, tuple[tuple[float, float], ...]]:
    """``"3:10,20 90,20 90,80 10,80"`` to (3, its four corners)."""
    number, colon, rest = text.partition(":")
    corners = rest.split()
    if not colon or number not in {str(i) for i in range(10)} or len(corners) != 4:
        raise typer.BadParameter(
            "--sheet: a sheet's number and four corners were due, such as "
            f"'3:10,20 90,20 90,80 10,80', got {text}"
        )
    return int(number), tuple(pixel(corner, "--sheet") for corner in corners)


def pixel(text: str, option: str) -> tuple[float, float]:
    """``"1312,655"`` to (1312.0, 655.0)."""
    parts = text.split(",")
    try:
        u, v = (float(part) for part in parts)
        if not (math.isfinite(u) and math.isfinite(v)):
            raise ValueError
    except ValueError:
        due = f"{option}: two numbers with a comma were due, such as 1312,655, got {text}"
        raise typer.BadParameter(due) from None
    return u, v
