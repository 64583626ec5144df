"""Where the files that ship with the program lie: in the wheel, or beside the package in a checkout."""

from __future__ import annotations

from pathlib import Path

from puttvision.errors import PuttvisionError

_PACKAGE = Path(__file__).resolve().parent


def shipped(*parts: str) -> Path:
    """Path of a shipped file such as ``shipped("calibration", "sheet-0-a4.pdf")``.

    Raises PuttvisionError where the installation lacks it.
    """
    for root in (_PACKAGE / "_shipped", _PACKAGE.parent):
        path = root.joinpath(*parts)
        if path.exists():
            return path
    raise PuttvisionError(f"this installation lacks {'/'.join(parts)}: install puttvision again")
