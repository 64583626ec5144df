"""Decoding that tells whole pictures from damaged ones.

FFmpeg covers up damage: a picture with missing parts is patched and handed out, and so are all that
are predicted from it. Here nothing is handed out from the first damaged picture on until the next
key frame, which starts afresh.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import av

from puttvision.errors import ClipError


def open_container(path: Path) -> Any:
    """Open the file; a ClipError of one line says why it cannot be."""
    if not path.exists():
        raise ClipError(f"{path}: there is no such file; check the name and the folder")
    if path.is_dir():
        raise ClipError(f"{path}: this is a folder, not a clip; name the video file in it")
    try:
        if path.stat().st_size == 0:
            raise ClipError(f"{path}: the file is empty; copy it from the phone again")
        return av.open(str(path), metadata_errors="replace")
    except PermissionError as err:
        raise ClipError(f"{path}: the file may not be read; check its permissions") from err
    except (av.FFmpegError, OSError, ValueError) as err:
        raise ClipError(
            f"{path}: this is no video that can be read (or its recording was cut off before the file was "
            "finished); copy it from the phone again, as .mp4 or .mov"
        ) from err


def video_streams(container: Any, path: Path) -> list[Any]:
    """The video streams that have a decoder, the one with most pictures first.

    Cover pictures are left out. Raises ClipError where there is none.
    """
    attached = 0x400  # AV_DISPOSITION_ATTACHED_PIC
    streams = [s for s in container.streams.video if not int(s.disposition) & attached]
    if not streams:
        kind = "sound" if container.streams.audio else "data"
        raise ClipError(f"{path}: there is no picture in this file, only {kind}; name a video clip")
    readable = [s for s in streams if s.codec_context is not None]
    if not readable:
        raise ClipError(
            f"{path}: the picture is packed in a way that cannot be read here; save it as H.264 or HEVC"
        )
    return sorted(readable, key=lambda s: -s.frames)


class Decoding:
    """One pass over the pictures of a stream, with an account of what was damaged.

    The numbers are final once :meth:`pictures` has run out.
    """

    def __init__(self, container: Any, stream: Any, threads: int = 0) -> None:
        self._container = container
        self._stream = stream
        self.n_packets = 0
        self.n_damaged = 0
        """Pictures left out because they, or what they are predicted from, are damaged."""
        self.ends_damaged = False
        """No whole picture comes after the last damage."""
        self.error: str | None = None
        """Why reading stopped before the end of the file."""
        with suppress(RuntimeError):  # the decoder is open already
            stream.codec_context.thread_count = threads
            stream.thread_type = "AUTO"

    def pictures(self) -> Iterator[Any]:
        """Yield the whole pictures (av.VideoFrame) in order of presentation."""
        self.ends_damaged = waiting = False
        for decoded in self._decoded():
            if decoded is None:
                self.ends_damaged = waiting = True
                continue
            if decoded.is_corrupt or (waiting and not decoded.key_frame):
                self.ends_damaged = waiting = True
                self.n_damaged += 1
                continue
            self.ends_damaged = waiting = False
            yield decoded

    def _decoded(self) -> Iterator[Any]:
        """Yield each decoded picture, and None where the decoder gave up on something."""
        try:
            for packet in self._container.demux(self._stream):
                if packet.size == 0 and packet.pts is None:
                    break  # the demuxer's own flush packet
                self.n_packets += 1
                try:
                    yield from packet.decode()
                except av.FFmpegError:
                    self.n_damaged += 1
                    yield None
        except (av.FFmpegError, OSError) as err:
            self.error = str(err)
            yield from self._drained()
            return
        yield from self._drained()

    def _drained(self) -> Iterator[Any]:
        """Yield what the decoder still holds; an error in between does not end it."""
        for _ in range(64):  # more than any decoder holds
            try:
                yield from self._stream.codec_context.decode(None)
            except EOFError:
                return
            except av.FFmpegError:
                self.n_damaged += 1
                yield None
            else:
                return
