"""Files that cannot be read, or not to the end: one line says why, and no damaged picture is handed out."""

import random

import av
import numpy as np
import pytest

from puttvision.clip import open_clip
from puttvision.errors import ClipError


def refusal(path) -> str:
    with pytest.raises(ClipError) as caught:
        open_clip(path)
    text = str(caught.value)
    assert "\n" not in text
    assert str(path) in text
    return text


def test_no_such_file(tmp_path):
    assert "no such file" in refusal(tmp_path / "none.mp4")


def test_a_folder(tmp_path):
    assert "folder" in refusal(tmp_path)


@pytest.mark.parametrize("name", ["note.mp4", "note.txt", "note.mov"])
def test_a_text_is_no_video_whatever_its_name(tmp_path, name):
    # FFmpeg would play a .txt as a film of letters.
    path = tmp_path / name
    path.write_text("Saturday: nine putts from three metres\n" * 40)
    assert "no video that can be read" in refusal(path)


def test_a_list_of_addresses_is_not_followed(tmp_path):
    path = tmp_path / "list.m3u8"
    path.write_text("#EXTM3U\n#EXTINF:1,\nhttp://127.0.0.1:9/clip.ts\n#EXT-X-ENDLIST\n")
    assert "no video that can be read" in refusal(path)


def test_a_photograph_is_no_video(tmp_path):
    import cv2

    path = tmp_path / "photo.png"
    assert cv2.imwrite(str(path), np.zeros((40, 60), np.uint8))
    assert "no video that can be read" in refusal(path)


def test_an_empty_file(tmp_path):
    path = tmp_path / "empty.mp4"
    path.touch()
    assert "empty" in refusal(path)


def test_bytes_without_meaning(tmp_path):
    path = tmp_path / "noise.mp4"
    path.write_bytes(random.Random(1).randbytes(50_000))
    assert "no video that can be read" in refusal(path)


def test_sound_only(tmp_path):
    path = tmp_path / "sound.m4a"
    with av.open(str(path), "w", format="mp4") as out:
        stream = out.add_stream("aac", rate=48000)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), "fltp", "mono")
        frame.sample_rate, frame.pts = 48000, 0
        out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    assert "no video stream in this file, only sound" in refusal(path)


def test_a_header_without_pictures(tmp_path, film):
    whole = film(n=12).path.read_bytes()
    path = tmp_path / "husk.mp4"
    start, end = whole.index(b"mdat") + 4, whole.rindex(b"moov") - 4
    path.write_bytes(whole[:start] + bytes(end - start) + whole[end:])
    assert "not one whole picture" in refusal(path)


def test_a_recording_that_was_never_finished(tmp_path, film):
    whole = film(n=12).path.read_bytes()
    path = tmp_path / "unfinished.mp4"
    path.write_bytes(whole[: whole.rindex(b"moov")])
    assert "cut off before the file was finished" in refusal(path)


def test_pictures_without_times(film):
    assert "no times" in refusal(film("raw.h264", n=6).path)


def check_whole(clip, filmed, ticks_a_second=30) -> list[int]:
    """Read the clip; every frame handed out must be as drawn. Give back the numbers of the frames."""
    numbers = []
    for frame in clip.frames():
        number = round(frame.time_s * ticks_a_second)
        np.testing.assert_array_equal(frame.luma, filmed.planes[number][0])
        numbers.append(number)
    return numbers


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
def test_a_file_cut_off_is_read_up_to_there(film, codec):
    filmed = film(n=40, key_every=10, codec=codec, muxer={"movflags": "faststart"})
    data = filmed.path.read_bytes()
    filmed.path.write_bytes(data[: len(data) * 6 // 10])
    with open_clip(filmed.path) as clip:
        numbers = check_whole(clip, filmed)
        assert numbers == list(range(len(numbers)))
        assert 10 <= len(numbers) <= 28
        assert clip.broke_at_s == numbers[-1] / 30
        assert "of the 40 frames it promises are missing" in clip.break_text
        assert f"{clip.broke_at_s:.2f} s" in clip.break_text
        assert "\n" not in clip.break_text


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
def test_a_fragmented_file_cut_off_is_read_up_to_there(film, codec):
    # Fragmented files have no frame count in the header: the length tells, where there is one, else the cut.
    filmed = film(n=90, key_every=10, codec=codec, muxer={"movflags": "frag_keyframe+empty_moov"})
    data = filmed.path.read_bytes()
    filmed.path.write_bytes(data[: len(data) * 5 // 10])
    with open_clip(filmed.path) as clip:
        numbers = check_whole(clip, filmed)
        assert numbers == list(range(len(numbers)))
        assert 30 <= len(numbers) < 60


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
def test_a_hole_costs_the_pictures_up_to_the_next_key_frame(film, codec):
    filmed = film(n=40, key_every=10, codec=codec)
    damage(filmed.path, packet=13, fill=b"\0")
    with open_clip(filmed.path) as clip:
        numbers = check_whole(clip, filmed)
        assert set(range(40)) - set(numbers) <= set(range(10, 20))
        assert set(range(13, 20)).isdisjoint(numbers)
        assert clip.gaps_s == [(max(n for n in numbers if n < 13) / 30, 20 / 30)]
        assert clip.n_damaged > 0
        assert clip.broke_at_s is None


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
def test_a_hole_in_the_last_group_is_where_the_clip_broke(film, codec):
    filmed = film(n=40, key_every=10, codec=codec)
    damage(filmed.path, packet=36, fill=b"\0")
    with open_clip(filmed.path) as clip:
        numbers = check_whole(clip, filmed)
        assert numbers == list(range(len(numbers)))
        assert 30 < len(numbers) <= 36
        assert clip.broke_at_s == numbers[-1] / 30
        assert "damaged" in clip.break_text


def damage(path, *, packet: int, fill: bytes, from_share: float = 0.0) -> None:
    """Overwrite a packet's bytes, or those after a share of them."""
    with av.open(str(path)) as container:
        found = [p for p in container.demux(container.streams.video[0]) if p.size][packet]
        at, size = found.pos, found.size
    kept = int(size * from_share)
    data = bytearray(path.read_bytes())
    data[at + kept : at + size] = fill * (size - kept)
    path.write_bytes(data)


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
@pytest.mark.parametrize("packet", range(15, 31))
def test_no_picture_is_handed_out_that_builds_on_a_lost_one(film, codec, packet):
    # B-frames are shown before the frame that they and the lost one build on; every packet in turn is struck.
    options = {
        "libx264": {"preset": "fast", "bf": "3", "b-pyramid": "normal"},
        "libx265": {"x265-params": "lossless=1:log-level=none:bframes=3:b-pyramid=1:keyint=15:min-keyint=15"},
    }[codec]
    filmed = film(n=45, key_every=15, codec=codec, options=options)
    damage(filmed.path, packet=packet, fill=b"\0" if packet % 2 else b"\xa5")
    with open_clip(filmed.path) as clip:
        numbers = check_whole(clip, filmed)
        assert clip.n_damaged > 0
        assert 45 - 15 - 3 <= len(numbers) < 45


def test_no_picture_is_handed_out_that_builds_on_a_patched_one(film):
    # Most of a frame is gone; FFmpeg patches it and says so when it is shown, after B-frames that lean on it.
    filmed = film(n=45, key_every=15, options={"preset": "fast", "bf": "2", "qp": "25"})
    whole = filmed.path.read_bytes()
    with open_clip(filmed.path) as clip:
        sound = {frame.time_s: frame.luma.copy() for frame in clip.frames()}
    n_noticed = 0
    for packet in range(15, 31):
        filmed.path.write_bytes(whole)
        damage(filmed.path, packet=packet, fill=b"\xa5", from_share=0.1)
        with open_clip(filmed.path) as clip:
            same = [np.array_equal(frame.luma, sound[frame.time_s]) for frame in clip.frames()]
        if clip.n_damaged:
            n_noticed += 1
            assert all(same)
            assert len(same) >= 45 - 15 - 2
    assert n_noticed >= 12  # the rest FFmpeg does not notice


def test_a_picture_that_changes_its_size_ends_the_clip(tmp_path, film):
    paths = [film(f"{i}.ts", n=6, size=size).path for i, size in enumerate([(96, 64), (128, 80)])]
    path = tmp_path / "both.ts"
    path.write_bytes(b"".join(p.read_bytes() for p in paths))
    with open_clip(path) as clip:
        n = sum(1 for _ in clip.frames())
    assert n == 6
    assert clip.broke_at_s == pytest.approx(5 / 30)
    assert "changes its size to 128x80" in clip.break_text
