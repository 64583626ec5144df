"""Lens profiles as the page chooses among them, and as they go to the process that measures.

Where profiles are kept is the command's affair: it hands the page something that knows them.
"""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from puttvision.errors import PuttvisionError

if TYPE_CHECKING:
    from puttvision.putt.known_lens import KnownLens


class Lenses(Protocol):
    """The profiles that this computer keeps."""

    def names(self) -> list[str]:
        """All names, in order."""

    def of(self, clip: Path, name: str | None, capture_rate_hz: float | None) -> KnownLens | None:
        """The profile of that name, or the one that the clip's metadata points to; None where none does.

        Raises PuttvisionError for a name that is not there or a picture of another shape.
        """


class NoLenses:
    """None are kept."""

    def names(self) -> list[str]:
        return []

    def of(self, clip: Path, name: str | None, capture_rate_hz: float | None) -> KnownLens | None:  # noqa: ARG002
        if name is not None:
            raise PuttvisionError(f'no lens profile "{name}" is kept on this computer')
        return None


def to_json(lens: KnownLens | None) -> dict[str, Any] | None:
    """A profile as plain data."""
    return None if lens is None else asdict(lens)


def from_json(data: dict[str, Any] | None) -> KnownLens | None:
    """The profile again; only of what `to_json` wrote."""
    if data is None:
        return None
    from puttvision.green.pose import LensPrior
    from puttvision.putt.assemble import Readout
    from puttvision.putt.known_lens import KnownLens

    prior: dict[str, Any] = {
        key: tuple(value) if isinstance(value, list) else value for key, value in data["prior"].items()
    }
    readout = None if data["readout"] is None else Readout(**data["readout"])
    return KnownLens(name=data["name"], prior=LensPrior(**prior), readout=readout)
