"""Real files that nobody here made: the facts measured of them elsewhere must come out.

Source of every number: the table in ../shared/real/README.md, section A ("measured with PyAV 18.1.0,
cross-checked for rotation with ffprobe"): stored size, counter-clockwise turn of the display matrix,
time base, packets and decoded pictures, and smallest, median and largest interval in ticks.
"""

# ruff: noqa: E501 - the table of facts has one file a line

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from statistics import median_high
from typing import NamedTuple

import numpy as np
import pytest

from puttvision.clip import check_measurable, open_clip
from puttvision.errors import ClipError


class Row(NamedTuple):
    file: str
    codec: str
    pixel_format: str
    stored: tuple[int, int]
    turn_ccw_deg: int
    ticks_a_second: int
    n_header: int
    n_pictures: int
    intervals: tuple[int, int, int]


ROWS = [
    Row("amedia__edit_list_positive_shift.mp4", "h264", "yuv420p", (1920, 1080), 0, 15360, 270, 270, (512, 512, 512)),
    Row("amedia__h265_with_metadata_track.mp4", "hevc", "yuvj420p", (1920, 1080), -90, 90000, 3, 3, (3002, 3002, 3002)),
    Row("amedia__hlg10-color-test.mp4", "hevc", "yuv420p10le", (1920, 1080), 0, 90000, 9, 9, (3001, 3001, 3001)),
    Row("amedia__iibbibb_editlist_videoonly.mp4", "h264", "yuv444p", (704, 576), 0, 16384, 13, 12, (16384, 16384, 16384)),
    Row("amedia__pixel-motion-photo-2-hevc-tracks.mp4", "hevc", "yuvj420p", (1024, 768), -90, 90000, 58, 58, (2986, 3001, 9752)),
    Row("amedia__pixel7_videoOnly_cleaned.mp4", "h264", "yuvj420p", (1920, 1080), -180, 90000, 36, 36, (3008, 3013, 3018)),
    Row("amedia__portrait_4k60.mp4", "h264", "yuvj420p", (3840, 2160), -90, 90000, 18, 18, (1445, 1499, 1552)),
    Row("amedia__sample_android_slow_motion.mp4", "h264", "yuvj420p", (1280, 720), 0, 90000, 7, 7, (3000, 3000, 29281)),
    Row("amedia__sample_sef_slow_motion.mp4", "h264", "yuv420p", (320, 240), 0, 90000, 64, 63, (3000, 3000, 3000)),
    Row("amedia__sample_sef_super_slow_motion.mp4", "h264", "yuv420p", (160, 120), 0, 90000, 436, 435, (3000, 3000, 3000)),
    Row("amedia__sample_edit_list.mp4", "hevc", "yuv420p10le", (1920, 1080), -90, 600, 86, 77, (20, 20, 21)),
    Row("amedia__sample_edit_list_only_preroll_sync_sample.mp4", "h264", "yuv420p", (640, 360), 0, 23040000, 17, 16, (767849, 767849, 767849)),
    Row("amedia__sample_empty_track.mp4", "h264", "yuv420p", (1080, 720), 0, 90000, 30, 30, (3002, 3003, 3004)),
    Row("amedia__sample_mdat_too_long.mp4", "h264", "yuv420p", (1080, 720), 0, 30000, 30, 30, (1001, 1001, 1001)),
    Row("amedia__sample_missing_stsd.mp4", "h264", "yuv420p", (1080, 720), 0, 30000, 30, 30, (1001, 1001, 1001)),
    Row("amedia__sample_rotate_and_reflect.mp4", "h264", "yuv420p", (1080, 720), -90, 30000, 30, 30, (1001, 1001, 1001)),
    Row("amedia__sample_with_increasing_timestamps.mp4", "h264", "yuvj420p", (1920, 1080), 0, 15360, 30, 30, (512, 512, 512)),
    Row("amedia__sample_fragmented.mp4", "h264", "yuv420p", (1080, 720), 0, 30000, 0, 30, (1001, 1001, 1001)),
    Row("amedia__water_180_mvhevc_5frames.mov", "hevc", "yuv420p", (1934, 2160), 0, 11520, 5, 5, (128, 128, 128)),
    Row("amedia__sample_av1.mp4", "av1", "yuv420p", (1080, 720), 0, 30000, 30, 30, (1001, 1001, 1001)),
    Row("amedia__bear-vp9-odd-dimensions.webm", "vp9", "yuv420p", (161, 121), 0, 1000, 0, 30, (33, 33, 34)),
    Row("amedia__roadtrip-vp92-10bit.webm", "vp9", "yuv420p10le", (426, 240), 0, 1000, 0, 72, (41, 42, 42)),
    Row("amedia__bbb_800x640_768kbps_30fps_avc_2b_firstpts_10_sec.mp4", "h264", "yuv420p", (800, 640), 0, 15360, 120, 120, (512, 512, 512)),
    Row("amedia__bbb_176x144_128kbps_15fps_h263.3gp", "h263", "yuv420p", (176, 144), 0, 15360, 15, 15, (1024, 1024, 1024)),
    Row("decord__unordered.mov", "h264", "yuv420p", (50, 50), 0, 16384, 4, 4, (512, 512, 512)),
    Row("decord__video_0.mov", "h264", "yuv420p", (568, 320), 0, 19200, 3, 3, (640, 640, 640)),
    Row("decord__video_90.mov", "h264", "yuv420p", (568, 320), -90, 19200, 3, 3, (640, 640, 640)),
    Row("decord__video_180.mov", "h264", "yuv420p", (568, 320), -180, 19200, 3, 3, (640, 640, 640)),
    Row("decord__video_270.mov", "h264", "yuv420p", (568, 320), 90, 19200, 3, 3, (640, 640, 640)),
    Row("mdx__mp4__ftyp3gp5.mp4", "h264", "yuv420p", (1280, 720), -90, 90000, 39, 39, (2970, 2970, 3060)),
    Row("mdx__mp4__FLIR_Thermal.mp4", "h264", "yuv420p", (1080, 1440), 0, 600, 84, 84, (23, 68, 1198)),
    Row("mbunny__cursed-vfr.mp4", "h264", "yuv420p", (3026, 1386), 0, 57600, 63, 63, (305, 1912, 90432)),
    Row("mbunny__edts.mp4", "h264", "yuv420p", (854, 480), 0, 12800, 225, 225, (512, 512, 512)),
    Row("mbunny__sar_2x1.mp4", "h264", "yuv420p", (640, 360), 0, 15360, 150, 150, (512, 512, 512)),
    Row("psd__delayed_start.mp4", "mpeg4", "yuv420p", (480, 320), 0, 12800, 24, 24, (512, 512, 512)),
    Row("torchcodec__h264_10bits.mp4", "h264", "yuv420p10le", (200, 200), 0, 15360, 30, 30, (512, 512, 512)),
    Row("torchcodec__h265_10bits.mp4", "hevc", "yuv420p10le", (200, 200), 0, 15360, 30, 30, (512, 512, 512)),
]  # fmt: skip
HEAVY = {
    "amedia__pixel-motion-photo-2-hevc-tracks.mp4",
    "amedia__portrait_4k60.mp4",
    "amedia__sample_edit_list.mp4",
    "amedia__water_180_mvhevc_5frames.mov",
    "mbunny__cursed-vfr.mp4",
    "mdx__mp4__FLIR_Thermal.mp4",
}
# The display sizes of these follow from the pixel aspect that the same README states.
SQUARED = {
    "mbunny__sar_2x1.mp4": (1280, 360),
    "amedia__bbb_800x640_768kbps_30fps_avc_2b_firstpts_10_sec.mp4": (1137, 640),
}


@pytest.fixture
def video(shared: Path) -> Path:
    return shared / "real" / "video"


EACH_ROW = [
    pytest.param(row, id=row.file.rsplit(".", 1)[0], marks=[pytest.mark.slow] if row.file in HEAVY else [])
    for row in ROWS
]


@pytest.mark.parametrize("row", EACH_ROW)
def test_facts_and_times_of_a_real_file(video, row):
    with open_clip(video / row.file) as clip:
        frames = [(frame.index, frame.time_s, frame.luma.shape) for frame in clip.frames()]
    facts = clip.facts
    assert (facts.codec, facts.pixel_format) == (row.codec, row.pixel_format)
    assert (facts.stored_width, facts.stored_height) == row.stored
    assert facts.n_frames_header == (row.n_header or None)

    upright = SQUARED.get(row.file, row.stored if row.turn_ccw_deg % 180 == 0 else row.stored[::-1])
    assert (facts.width, facts.height) == upright
    assert {shape for _, _, shape in frames} == {upright[::-1]}
    if not facts.mirrored:
        assert facts.rotation_deg == -row.turn_ccw_deg % 360

    assert [index for index, _, _ in frames] == list(range(row.n_pictures))
    assert frames[0][1] == 0.0
    ticks = np.array([time_s for _, time_s, _ in frames]) * row.ticks_a_second
    np.testing.assert_allclose(ticks, np.round(ticks), atol=1e-3)
    intervals = np.diff(np.round(ticks)).astype(int).tolist()
    assert (min(intervals), median_high(intervals), max(intervals)) == row.intervals
    assert (clip.n_damaged, clip.n_dropped, clip.broke_at_s, clip.break_text) == (0, 0, None, None)


@pytest.mark.slow
@pytest.mark.parametrize("row", EACH_ROW)
def test_samples_of_a_real_file_are_frames_of_it(video, row):
    with open_clip(video / row.file) as clip:
        lumas = {frame.time_s: frame.luma[::7, ::7].copy() for frame in clip.frames()}
        samples = [(frame.time_s, frame.luma[::7, ::7].copy()) for frame in clip.sample(4)]
    times = [time_s for time_s, _ in samples]
    assert times == sorted(set(times))
    # a gap in the times (FLIR, cursed-vfr, the slow motion) may swallow some
    assert min(3, row.n_pictures) <= len(times) <= 4
    for time_s, luma in samples:
        np.testing.assert_array_equal(luma, lumas[time_s])


def test_the_mirrored_file_is_transposed(video):
    # README: display matrix (0 1; 1 0), transpose with reflection; all else is as in the file without it.
    with open_clip(video / "amedia__sample_rotate_and_reflect.mp4") as turned:
        assert turned.facts.mirrored
        assert "mirrored" in turned.facts.warnings[0]
        with open_clip(video / "amedia__sample_missing_stsd.mp4") as plain:  # the same film by its numbers
            for a, b in zip(turned.frames(), plain.frames(), strict=True):
                np.testing.assert_array_equal(a.luma, b.luma.T)


@pytest.mark.parametrize(
    "file", ["amedia__sample_android_slow_motion.mp4", "amedia__sample_sef_slow_motion.mp4"]
)
def test_slow_motion_by_tag(video, file):
    # README: both say 240 in com.android.capture.fps and play at 30, times 8 times too long if so.
    (warning,) = open_clip(video / file).facts.warnings
    assert "filmed at 240 frames a second but plays at 30" in warning
    facts = open_clip(video / file, capture_rate_hz=240).facts
    assert facts.time_scale == pytest.approx(1 / 8)


@pytest.mark.parametrize(
    "row", [row for row in ROWS if "slow_motion" not in row.file], ids=lambda row: row.file
)
def test_no_file_else_warns_of_slow_motion(video, row):
    assert not any("slow motion" in warning for warning in open_clip(video / row.file).facts.warnings)


def test_a_file_without_video(video):
    with pytest.raises(ClipError, match="no video stream in this file, only sound"):
        open_clip(video / "amedia__sample_audio_only.mp4")


def test_a_file_cut_at_100000_bytes(video):
    # README: header promises 745 pictures, 6 can be had, the last one corrupt; times 0 to 0.463 s.
    with open_clip(video / "mbunny__annex-b.mp4") as clip:
        times = [frame.time_s for frame in clip.frames()]
    assert len(times) == 5
    assert clip.broke_at_s == times[-1] < 0.463
    assert "739 of the 745 frames it promises are missing" in clip.break_text


def test_a_bit_stream_that_breaks_off_silently(video):
    # README: header claims 30, only 26 pictures come, without an error raised.
    with open_clip(video / "amedia__sample_with_invalid_nalu.mp4") as clip:
        times = [frame.time_s for frame in clip.frames()]
    assert times == pytest.approx([float(Fraction(1001, 30000) * i) for i in range(26)])
    assert clip.broke_at_s == times[-1]
    assert clip.n_damaged == 4
    assert "damaged" in clip.break_text


def test_a_file_damaged_in_the_middle(video):
    # README: one packet fails (30720 ticks of 10240 a second: 3.0 s) and one picture is flagged corrupt, with
    # a single key frame at the start: so all from there on builds on the lost one.
    with open_clip(video / "decord__corrupted.mp4") as clip:
        times = [frame.time_s for frame in clip.frames()]
    assert times == pytest.approx([i / 10 for i in range(len(times))])
    assert 2.5 < times[-1] < 3.0
    assert clip.broke_at_s == times[-1]
    assert len(times) + clip.n_damaged == 50


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("amedia__bbb_176x144_128kbps_15fps_h263.3gp", "15.0 frames a second"),
        ("amedia__sample_sef_slow_motion.mp4", "320x240 pixels"),
        ("mdx__mp4__FLIR_Thermal.mp4", "frames a second"),
    ],
)
def test_real_files_too_poor_to_measure(video, file, words):
    with pytest.raises(ClipError, match=words):
        check_measurable(open_clip(video / file).facts)


@pytest.mark.parametrize(
    "file",
    ["amedia__pixel7_videoOnly_cleaned.mp4", "amedia__portrait_4k60.mp4", "mdx__mp4__ftyp3gp5.mp4"],
)
def test_phone_clips_are_fit_to_measure(video, file):
    check_measurable(open_clip(video / file).facts)
