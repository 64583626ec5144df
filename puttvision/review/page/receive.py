"""Taking in a clip that the browser sends: in pieces to a temporary name, limited, and looked at first."""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator
from pathlib import Path

from anyio import to_thread

from puttvision.clip.facts import check_measurable
from puttvision.clip.source import open_clip
from puttvision.errors import ClipError, PuttvisionError

LARGEST_CLIP = 8 * 1024**3
"""Bytes: an hour of 1080p at a phone's usual 17 Mbit/s (from memory)."""
_SPARE = 512 * 1024**2
"""Room that must be left on the disk."""
_BOXES = {b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip", b"pnot"}
"""First boxes of .mp4 and .mov files (ISO/IEC 14496-12 and QuickTime; from memory). Nothing else is let
near FFmpeg: it would follow the names of other files in a playlist."""


class Refused(PuttvisionError):
    """A file that is not taken in; ``status`` is the HTTP status that says so."""

    def __init__(self, status: int, text: str) -> None:
        super().__init__(text)
        self.status = status


def check_announced(length: str | None, root: Path, largest: int = LARGEST_CLIP) -> None:
    """Refuse a file by its announced length, before a byte is written."""
    if length is None:
        return
    if int(length[:20]) > largest:
        raise Refused(413, f"the clip is larger than {largest / 1e9:.3g} GB: cut it into parts")
    place = next(folder for folder in (root, *root.parents) if folder.exists())
    if int(length[:20]) + _SPARE > shutil.disk_usage(place).free:
        raise Refused(507, "the disk has no room for this clip: make room and try again")


async def receive(stream: AsyncIterator[bytes], to: Path, largest: int = LARGEST_CLIP) -> None:
    """Write what comes to ``to``; removed again where it is refused or breaks off.

    Raises Refused where it is too large, or does not begin as a clip does.
    """
    got = 0
    head = b""
    try:
        with to.open("xb") as file:
            async for piece in stream:
                got += len(piece)
                if got > largest:
                    raise Refused(413, f"the clip is larger than {largest / 1e9:.3g} GB: cut it into parts")
                if len(head) < 8:
                    head += piece[: 8 - len(head)]
                    if len(head) == 8 and head[4:] not in _BOXES:
                        raise Refused(415, "this is no clip from a phone: .mp4 or .mov was due")
                await to_thread.run_sync(file.write, piece)
        if got < 8:
            raise Refused(415, "the file is empty: choose the clip again")
        await to_thread.run_sync(_look, to)
    except OSError as err:
        to.unlink(missing_ok=True)
        raise Refused(507, f"the clip cannot be written: {err.strerror or err}") from err
    except BaseException:
        to.unlink(missing_ok=True)
        raise


def _look(path: Path) -> None:
    """Refuse what cannot be opened or measured as a clip."""
    try:
        with open_clip(path, threads=1) as clip:
            check_measurable(clip.facts)
    except ClipError as err:
        # the coach knows the file by its own name, not by ours
        raise Refused(415, str(err).replace(str(path), "the clip").replace(path.name, "the clip")) from err
