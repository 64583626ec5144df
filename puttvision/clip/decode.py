"""Decoding that tells whole pictures from damaged ones.

FFmpeg covers up damage: a picture with missing parts is patched and handed out, and so are all that
are predicted from it. Here no picture is handed out from the first one on that the decoder says is
damaged, in decoding order, until the next key frame, which starts afresh. What the decoder does not
notice cannot be seen here either: FFmpeg notices nearly all damage in H.264, but in HEVC only what
breaks the frame's wrapping, not a few flipped bits within.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import av

from puttvision.errors import ClipError

CONTAINERS = "mov,matroska,avi,mpegts,mpeg,asf,flv,ogg,mxf,h264,hevc,wav,mp3,aac,flac"
"""Formats that are looked into; FFmpeg would also play text files, pictures and lists of web addresses."""
MAX_PICTURES_HELD = 64
"""More pictures than any decoder holds back: 16 for reordering and one for each of its threads."""


def open_container(path: Path) -> Any:
    """Open the file; a ClipError of one line says why it cannot be."""
    if not path.exists():
        raise ClipError(f"{path}: there is no such file; check the name and the folder")
    if path.is_dir():
        raise ClipError(f"{path}: this is a folder, not a clip; name the video file in it")
    if not path.is_file():
        raise ClipError(f"{path}: this is no file; name a video file")
    try:
        if path.stat().st_size == 0:
            raise ClipError(f"{path}: the file is empty; copy it from the phone again")
        return av.open(str(path), metadata_errors="replace", options={"format_whitelist": CONTAINERS})
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
        only = ", only sound" if container.streams.audio else ""
        raise ClipError(f"{path}: there is no video stream in this file{only}; name a video clip")
    readable = [s for s in streams if s.codec_context is not None]
    if not readable:
        raise ClipError(
            f"{path}: the picture is packed in a way that cannot be read here; save it as H.264 or HEVC"
        )
    return sorted(readable, key=lambda s: -s.frames)


class _Place(NamedTuple):
    """Where a packet stands in decoding order, and the key frame that its group starts with."""

    order: int
    key_order: int
    key_pts: int


class Decoding:
    """One pass over the pictures of a stream, with an account of what was damaged.

    ``n_packets``, ``n_damaged``, ``error`` and ``ends_damaged`` are final once :meth:`pictures` has run out.
    """

    def __init__(self, packets: Iterable[Any], stream: Any, threads: int = 0) -> None:
        self._packets = packets
        self._codec = stream.codec_context
        self.n_packets = 0
        self.n_damaged = 0
        """Pictures left out because they, or what they are predicted from, are damaged."""
        self.error: str | None = None
        """Why reading stopped before the end of the file."""
        self._damages: list[int] = []  # places in decoding order, since the last sound key frame
        self._places: dict[int, _Place] = {}  # by presentation time, of packets whose picture is still due
        self._key = (0, 0)
        if not self._codec.is_open:
            self._codec.thread_count = threads
            self._codec.thread_type = "AUTO"

    @property
    def ends_damaged(self) -> bool:
        """No sound key frame has come since the last damage."""
        return bool(self._damages)

    def pictures(self) -> Iterator[Any]:
        """Yield the whole pictures (av.VideoFrame) in order of presentation."""
        held: deque[tuple[Any, _Place | None]] = deque()
        for picture in self._decoded():
            place = self._places.pop(picture.pts, None)
            if picture.is_corrupt:
                self._damages.append(self.n_packets if place is None else place.order)
                self.n_damaged += 1
                continue
            # A picture may build on some that are shown after it: wait until these are known to be whole.
            held.append((picture, place))
            while len(held) > self._reordering():
                yield from self._if_whole(*held.popleft())
        for picture, place in held:
            yield from self._if_whole(picture, place)

    def _reordering(self) -> int:
        """By how many pictures the order of presentation may lag behind that of decoding."""
        depth: int = getattr(self._codec, "reorder_depth", 4 if self._codec.has_b_frames else 0)
        return depth

    def _if_whole(self, picture: Any, place: _Place | None) -> Iterator[Any]:
        if self._damages and self._suspect(picture, place):
            self.n_damaged += 1
        else:
            yield picture

    def _suspect(self, picture: Any, place: _Place | None) -> bool:
        """Whether the picture may be predicted from a damaged one; forgets damage that is over."""
        if place is None:
            if picture.key_frame:
                self._damages.clear()
            return not picture.key_frame
        if picture.pts < place.key_pts:  # shown before its key frame, so it may build on the group before
            return min(self._damages) <= place.order
        self._damages = [order for order in self._damages if order >= place.key_order]
        return any(order <= place.order for order in self._damages)

    def _decoded(self) -> Iterator[Any]:
        """Yield each decoded picture, in order of presentation; note where the decoder gave up."""
        try:
            for packet in self._packets:
                if packet.size == 0 and packet.pts is None:
                    break  # the demuxer's own flush packet
                self._note_packet(packet)
                try:
                    yield from packet.decode()
                except av.FFmpegError:
                    self._note_failure()
        except (av.FFmpegError, OSError) as err:
            self.error = str(err)
        for _ in range(MAX_PICTURES_HELD):  # an error while draining does not end it
            try:
                yield from self._codec.decode(None)
            except EOFError:
                return
            except av.FFmpegError:
                self._note_failure()
            else:
                return

    def _note_packet(self, packet: Any) -> None:
        if packet.pts is not None:
            if packet.is_keyframe:
                self._key = (self.n_packets, packet.pts)
            if len(self._places) > MAX_PICTURES_HELD:  # packets that never gave a picture
                self._places.pop(next(iter(self._places)))
            self._places[packet.pts] = _Place(self.n_packets, *self._key)
        self.n_packets += 1

    def _note_failure(self) -> None:
        """The decoder failed on the last packet, or on one that a thread of it still had in work."""
        self._damages.append(max(0, self.n_packets - 1 - self._codec.thread_count))
        self.n_damaged += 1
