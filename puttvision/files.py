"""Writing files so that a reader never meets half of one: a temporary name first, then a rename."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from puttvision.errors import PuttvisionError

_TRIAL_BYTES = 1_000_000
"""A disk with less room than this will not take the results."""


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Yield a temporary path beside ``path``; renamed onto it on success, removed on any error.

    The parent folder is made where it is missing. Raises PuttvisionError where the place
    cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=path.suffix, dir=path.parent)
    except OSError as err:
        raise _cannot_write(path, err) from err
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
        temporary.replace(path)
    except BaseException as err:
        temporary.unlink(missing_ok=True)
        if isinstance(err, OSError):
            raise _cannot_write(path, err) from err
        raise


def check_place(folder: Path) -> None:
    """Make sure that files can be written into ``folder`` before long work is done for them.

    Nothing is left behind: where the folder is missing, the nearest one above it is tried. Raises
    PuttvisionError.
    """
    try:
        nearest = next(place for place in (folder, *folder.absolute().parents) if place.exists())
        with tempfile.TemporaryFile(dir=nearest) as trial:
            trial.write(bytes(_TRIAL_BYTES))
            trial.flush()
    except OSError as err:
        raise _cannot_write(folder, err) from err


def _cannot_write(path: Path, err: OSError) -> PuttvisionError:
    return PuttvisionError(f"cannot write {path}: {err.strerror or err}")


def write_text(path: Path, text: str) -> None:
    """Write ``text`` as UTF-8, whole or not at all."""
    with replacing(path) as temporary:
        temporary.write_text(text, encoding="utf-8")


def write_json(path: Path, data: Any) -> None:
    """Write ``data`` as JSON (no NaN or infinity), whole or not at all."""
    write_text(path, json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n")
