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
from av.stream import Disposition

from puttvision.errors import ClipError

CONTAINERS = "mov,matroska,avi,mpegts,mpeg,asf,flv,ogg,mxf,h264,hevc,wav,mp3,aac,flac"
"""Formats that are looked into; FFmpeg would also play text files, pictures and lists of web addresses."""
ONE_PICTURE_A_PACKET = {"h264", "hevc"}
"""In these each packet gives one picture; others (VP9, AV1) have packets that are never shown."""
MAX_PENDING = 64
"""More packets than any decoder has in work: 16 for reordering and one for each of its threads."""
MAX_REORDERED = 16
"""By how many pictures the order of presentation may lag behind that of decoding (ITU-T H.264, A.3.1,
max_num_reorder_frames; from memory)."""


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
    streams = [s for s in container.streams.video if Disposition.attached_pic not in s.disposition]
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
    leading: bool
    """Shown before its key frame: it may build on the group before, and nothing later builds on it."""


class Decoding:
    """One pass over the pictures of a stream, with an account of what was damaged.

    ``n_packets``, ``n_damaged``, ``error`` and ``ends_damaged`` are final once :meth:`pictures` has run out.
    """

    def __init__(self, packets: Iterable[Any], stream: Any, threads: int = 0) -> None:
        self._packets = packets
        self._codec = stream.codec_context
        self.n_packets = 0
        self.n_damaged = 0
        """Pictures left out because they, or what they are predicted from, are damaged or lost."""
        self.error: str | None = None
        """Why reading stopped before the end of the file."""
        self._one_for_one = self._codec.codec.canonical_name in ONE_PICTURE_A_PACKET
        self._pending: dict[int, _Place] = {}
        """By presentation time, in decoding order: packets whose picture has not come out yet."""
        self._damages: list[_Place] = []
        """Places of damaged and lost pictures, as far as others may build on them."""
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
        held: deque[tuple[Any, _Place]] = deque()
        for picture in self._decoded():
            place = self._unknown_place()
            if picture.pts is not None:
                place = self._pending.pop(picture.pts, place)
                self._note_lost(picture.pts)
            if picture.is_corrupt:
                self._note_damage(place)
                continue
            held.append((picture, place))
            while held and self._is_settled(held[0][1], len(held)):
                yield from self._if_whole(*held.popleft())
        self._note_lost(None)
        for picture, place in held:
            yield from self._if_whole(picture, place)

    def _is_settled(self, place: _Place, n_held: int) -> bool:
        """Whether all that the picture may build on has come out; some of that is shown after it."""
        if not self._one_for_one or n_held > MAX_REORDERED:
            return True
        first = next(iter(self._pending.values()), None)
        return first is None or first.order > place.order

    def _if_whole(self, picture: Any, place: _Place) -> Iterator[Any]:
        if self._damages and self._suspect(picture, place):
            self.n_damaged += 1
        else:
            yield picture

    def _suspect(self, picture: Any, place: _Place) -> bool:
        """Whether the picture may build on a damaged one; forgets damage that is over."""
        if place.leading:
            return any(damaged.order <= place.order for damaged in self._damages)
        key_order = place.order if picture.key_frame else place.key_order
        self._damages = [damaged for damaged in self._damages if damaged.order >= key_order]
        return any(damaged.order <= place.order and not damaged.leading for damaged in self._damages)

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
        for _ in range(MAX_PENDING):  # an error while draining does not end it
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
            if not packet.is_discard:
                if len(self._pending) > MAX_PENDING:
                    self._pending.pop(next(iter(self._pending)))
                self._pending[packet.pts] = _Place(self.n_packets, *self._key, packet.pts < self._key[1])
        self.n_packets += 1

    def _note_lost(self, shown_pts: int | None) -> None:
        """Packets that should have been shown by now (None: at the end) and were not are lost."""
        if not self._one_for_one:
            return
        lost = [pts for pts in self._pending if shown_pts is None or pts < shown_pts]
        for pts in lost:
            place = self._pending.pop(pts)
            if not (place.leading and place.key_order == 0):  # these build on what lies before the start
                self._note_damage(place)

    def _note_failure(self) -> None:
        """The decoder failed on the last packet, or on one that a thread of it still had in work.

        Where each packet gives a picture, the one that does not come tells better.
        """
        if not (self._one_for_one and self._pending):
            order = max(0, self.n_packets - 1 - self._codec.thread_count)
            self._note_damage(_Place(order, *self._key, False))

    def _note_damage(self, place: _Place) -> None:
        self._damages.append(place)
        self.n_damaged += 1

    def _unknown_place(self) -> _Place:
        """For a picture whose packet has no time: as if it came last, in the last group."""
        return _Place(self.n_packets - 1, *self._key, False)
