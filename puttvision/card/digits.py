"""Figures large enough to read across a green, out of block characters."""

from __future__ import annotations

_DOTS = {
    "0": ("###", "# #", "# #", "# #", "###"),
    "1": (" # ", "## ", " # ", " # ", "###"),
    "2": ("###", "  #", "###", "#  ", "###"),
    "3": ("###", "  #", "###", "  #", "###"),
    "4": ("# #", "# #", "###", "  #", "  #"),
    "5": ("###", "#  ", "###", "  #", "###"),
    "6": ("###", "#  ", "###", "# #", "###"),
    "7": ("###", "  #", "  #", " # ", " # "),
    "8": ("###", "# #", "###", "# #", "###"),
    "9": ("###", "# #", "###", "  #", "###"),
    ".": (" ", " ", " ", " ", "#"),
    "-": ("  ", "  ", "##", "  ", "  "),
    ":": (" ", "#", " ", "#", " "),
    " ": (" ", " ", " ", " ", " "),
}
_HIGH = 5
_LARGEST = 8
"""A dot is at most so many characters wide: beyond that it reads no better."""
_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def big(text: str, width: int, height: int, blocks: bool = True) -> list[str]:
    """``text`` (digits, ``.``, ``-``, ``:``) as rows of characters, as large as fits.

    A character of a terminal is about twice as high as wide: a dot is s characters wide and s/2 high.
    Without ``blocks`` (a terminal that knows ASCII only) dots are ``#`` and whole rows. The plain
    text where it does not fit even at the smallest size.
    """
    rows = [" ".join(_DOTS[letter][row] for letter in text) for row in range(_HIGH)]
    n_wide = len(rows[0])
    step = 1 if blocks else 2
    for size in range(min(_LARGEST, width // n_wide), 0, -1):
        n_half_rows = _HIGH * size
        if -(-n_half_rows // 2) <= height and size % step == 0:
            return _drawn(rows, size) if blocks else _plain(rows, size)
    return [text] if blocks or height < _HIGH or n_wide > width else _plain(rows, 1)


def _drawn(rows: list[str], size: int) -> list[str]:
    dots = [[dot == "#" for dot in row for _ in range(size)] for row in rows for _ in range(size)]
    if len(dots) % 2:
        dots.append([False] * len(dots[0]))
    return [
        "".join(_HALVES[upper, lower] for upper, lower in zip(dots[i], dots[i + 1], strict=True))
        for i in range(0, len(dots), 2)
    ]


def _plain(rows: list[str], size: int) -> list[str]:
    return ["".join(dot * size for dot in row) for row in rows for _ in range(max(size // 2, 1))]
