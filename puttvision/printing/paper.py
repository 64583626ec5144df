"""The two papers a sheet is printed on, portrait. Millimetres."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper size."""

    name: str
    """As said to people."""
    width_mm: float
    height_mm: float
    black_top_mm: float
    """From the paper's upper edge down to the black square of a sheet.

    Leaves the quiet zone of 15 mm and, above it, room for the tees' rings (10.5 mm)."""
    inches: bool
    """Whether its readers hold a ruler in inches."""


PAPERS = {
    "a4": Paper(name="A4", width_mm=210.0, height_mm=297.0, black_top_mm=30.0, inches=False),
    "letter": Paper(name="US Letter", width_mm=215.9, height_mm=279.4, black_top_mm=26.0, inches=True),
}
"""By the name that `--paper` takes: ISO 216 and ANSI/ASME Y14.1 size A."""
