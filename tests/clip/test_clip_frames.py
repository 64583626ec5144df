"""Frames of clips whose every sample and time is known, because the test drew them."""

import inspect
import resource
from pathlib import Path

import av
import numpy as np
import pytest

from puttvision.clip import Frame, check_measurable, open_clip
from puttvision.clip.decode import Decoding
from puttvision.clip.upright import Upright
from puttvision.errors import ClipError


def times_of(path: Path, **options: float) -> list[float]:
    with open_clip(path, **options) as clip:
        return [frame.time_s for frame in clip.frames()]


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
@pytest.mark.parametrize(("pixel_format", "shift"), [("yuv420p", 0), ("yuv420p10le", 2), ("yuv444p", 0)])
def test_luma_and_chroma_are_those_that_were_drawn(film, codec, pixel_format, shift):
    filmed = film(codec=codec, pixel_format=pixel_format, n=5)
    with open_clip(filmed.path) as clip:
        frames = list(clip.frames())
    assert [frame.index for frame in frames] == [0, 1, 2, 3, 4]
    for frame, (luma, cb, cr) in zip(frames, filmed.planes, strict=True):
        np.testing.assert_array_equal(frame.luma, luma >> shift)
        np.testing.assert_array_equal(frame.chroma()[0], cb >> shift)
        np.testing.assert_array_equal(frame.chroma()[1], cr >> shift)


@pytest.mark.parametrize("pixel_format", ["nv12", "nv21", "p010le"])
def test_interleaved_chroma_is_told_apart(pixel_format):
    # Hardware decoders give these. FFmpeg's own conversion to planes is the reference.
    picture = av.VideoFrame(64, 48, pixel_format)
    rng = np.random.default_rng(3)
    for plane in picture.planes:
        plane.update(rng.integers(0, 256, plane.buffer_size, dtype=np.uint8).tobytes())
    frame = Frame(0, 0.0, picture, Upright())
    planar = picture.reformat(format="yuv420p10le" if pixel_format == "p010le" else "yuv420p")
    expected = Frame(0, 0.0, planar, Upright())
    np.testing.assert_array_equal(frame.luma, expected.luma)
    np.testing.assert_array_equal(frame.chroma(), expected.chroma())
    assert not np.array_equal(*frame.chroma())


def test_a_screen_recording_in_rgb_has_luma():
    # ITU-R BT.601: white is 235, black 16, and grey has neutral chroma.
    picture = av.VideoFrame.from_ndarray(np.full((48, 64, 3), 255, np.uint8), format="rgb24")
    frame = Frame(0, 0.0, picture, Upright())
    assert frame.luma.shape == (48, 64)
    assert set(np.unique(frame.luma)) == {235}
    assert set(np.unique(frame.chroma())) == {128}


def test_a_grey_picture_has_neutral_chroma():
    picture = av.VideoFrame.from_ndarray(np.full((48, 64), 99, np.uint8), format="gray")
    frame = Frame(0, 0.0, picture, Upright(turn_deg=90))
    assert (frame.luma.shape, int(frame.luma[0, 0])) == ((64, 48), 99)
    assert [plane.shape for plane in frame.chroma()] == [(32, 24), (32, 24)]
    assert set(np.unique(frame.chroma())) == {128}


def test_luma_is_the_decoders_own_plane_and_outlives_its_frame(film):
    filmed = film(n=40, size=(128, 64))
    kept = []
    with open_clip(filmed.path) as clip:
        for frame in clip.frames():
            luma = frame.luma
            assert luma.__array_interface__["data"][0] == frame._picture.planes[0].buffer_ptr
            assert luma.flags.c_contiguous
            with pytest.raises(ValueError, match="read-only"):
                luma[0, 0] = 0
            kept.append(luma)
    for luma, (drawn, _, _) in zip(kept, filmed.planes, strict=True):
        np.testing.assert_array_equal(luma, drawn)


def test_rows_that_the_decoder_pads_are_cut_to_the_picture(film):
    filmed = film(n=2, size=(98, 62))
    with open_clip(filmed.path) as clip:
        for frame, (drawn, _, _) in zip(clip.frames(), filmed.planes, strict=True):
            assert frame.luma.shape == (62, 98)
            assert frame.luma.strides[1] == 1
            np.testing.assert_array_equal(frame.luma, drawn)


def test_times_are_presentation_times_from_the_first_frame(film):
    pts = [700, 703, 709, 711, 712, 730, 748]  # nothing like one rate, and not from 0
    filmed = film(pts=pts, n=len(pts), ticks_a_second=600)
    assert times_of(filmed.path) == [(p - 700) / 600 for p in pts]


def test_times_in_order_of_presentation_with_b_frames(film):
    filmed = film(n=30, options={"preset": "medium", "bf": "3", "b-pyramid": "normal"})
    with open_clip(filmed.path) as clip:
        for i, frame in enumerate(clip.frames()):
            assert frame.time_s == pytest.approx(i / 30, abs=1e-12)
            np.testing.assert_array_equal(frame.luma, filmed.planes[i][0])
    assert i == 29
    assert clip.break_text is None
    assert clip.n_damaged == 0


def test_frames_come_lazily_and_anew_at_each_call(film):
    filmed = film(n=20)
    with open_clip(filmed.path) as clip:
        assert inspect.isgenerator(clip.frames())
        running = clip.frames()
        assert next(running).index == 0
        assert clip.n_frames == 1
        assert len(list(clip.frames())) == 20
    assert list(running) == []  # closed with the clip


def test_memory_does_not_grow_with_the_length(film):
    # 200 pictures of 1280x720 hold 276 MB together; the decoder and its threads keep a handful.
    filmed = film(n=200, size=(1280, 720), still=True, keep=False)
    with open_clip(filmed.path) as clip:
        frames = clip.frames()
        for _ in range(20):
            next(frames)
        before_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        total = sum(int(frame.luma[0, 0]) for frame in frames)
        grown_mb = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kib) / 1024
    assert total >= 0
    assert clip.n_frames == 200
    assert grown_mb < 60


def test_facts_of_a_plain_clip(film):
    facts = open_clip(film(n=30, size=(640, 360), still=True).path).facts
    assert (facts.file, facts.width, facts.height) == ("clip.mp4", 640, 360)
    assert (facts.codec, facts.pixel_format) == ("h264", "yuv420p")
    assert (facts.rotation_deg, facts.mirrored, facts.pixel_aspect) == (0, False, 1.0)
    assert (facts.n_frames_header, facts.duration_s) == (30, 1.0)
    assert facts.nominal_rate_hz == pytest.approx(30)
    assert (facts.time_scale, facts.focal_35mm, facts.warnings) == (1.0, None, ())
    check_measurable(facts)


def test_progress_knows_its_total(film):
    with open_clip(film(n=30).path) as clip:
        last = [frame.time_s for frame in clip.frames()][-1]
        assert clip.total_s == pytest.approx(last + 1 / 30)


def test_focal_length_from_the_metadata(film):
    # Key: QuickTime metadata as phones write it (from memory); FFmpeg hands it on as it stands.
    key = "com.apple.quicktime.camera.focal_length.35mm_equivalent"
    assert open_clip(film(metadata={key: "26"}).path).facts.focal_35mm == 26
    assert open_clip(film("b.mp4", metadata={key: "much"}).path).facts.focal_35mm is None


def test_the_phone_from_the_metadata(film):
    # keys as phones write them (from memory); invented maker and model
    make, model = "com.apple.quicktime.make", "com.apple.quicktime.model"
    facts = open_clip(film(metadata={make: "Quillow", model: "Q 7  Plus"}).path).facts
    assert facts.phone == "Quillow Q 7 Plus"
    facts = open_clip(film("b.mp4", metadata={make: "Quillow", model: "Quillow Q7"}).path).facts
    assert facts.phone == "Quillow Q7"
    assert open_clip(film("c.mp4", metadata={make: "Quillow"}).path).facts.phone is None


def test_slow_motion_is_told_and_can_be_set_right(film):
    filmed = film(n=24, metadata={"com.android.capture.fps": "240.0"})
    with open_clip(filmed.path) as clip:
        (warning,) = clip.facts.warnings
        assert "--capture-rate 240" in warning
        assert clip.facts.time_scale == 1
    with open_clip(filmed.path, capture_rate_hz=240) as clip:
        assert [f.time_s for f in clip.frames()] == pytest.approx([i / 240 for i in range(24)], abs=1e-12)
        assert clip.facts.nominal_rate_hz == pytest.approx(240)
        assert clip.total_s == pytest.approx(24 / 240)


def test_a_capture_rate_that_is_the_files_own_changes_nothing(film):
    path = film(n=12).path
    assert open_clip(path, capture_rate_hz=29.97).facts.time_scale == 1.0
    assert times_of(path, capture_rate_hz=30.0) == times_of(path)


@pytest.mark.parametrize("rate", [0.0, -240.0, float("nan"), float("inf")])
def test_a_capture_rate_that_is_none_is_refused(film, rate):
    with pytest.raises(ClipError, match="capture rate"):
        open_clip(film().path, capture_rate_hz=rate)


def test_a_clock_of_milliseconds_does_not_bend_the_rate(film):
    pts = [round(1000 * i / 60) for i in range(60)]  # 16, 17, 17, ...: the median alone would say 58.8
    facts = open_clip(film("clip.mkv", n=60, pts=pts, ticks_a_second=1000).path).facts
    assert facts.nominal_rate_hz == pytest.approx(60, rel=0.003)


def test_pixels_that_are_not_square_are_made_square(film):
    filmed = film(n=3, size=(96, 64), pixel_aspect="2")
    with open_clip(filmed.path) as clip:
        assert (clip.facts.width, clip.facts.height) == (192, 64)
        assert (clip.facts.stored_width, clip.facts.pixel_aspect) == (96, 2.0)
        assert "not square" in clip.facts.warnings[0]
        frame = next(clip.frames())
    assert frame.luma.shape == (64, 192)
    # each stored pixel spreads over two, so the mean stays
    stored = filmed.planes[0][0].astype(float)
    assert abs(frame.luma.mean() - stored.mean()) < 1.0
    assert frame.chroma()[0].shape == (32, 96)


def test_frames_whose_time_does_not_increase_are_dropped(film, monkeypatch):
    filmed = film(n=6)
    pictures = Decoding.pictures
    wrong = {2: 1, 4: None}  # the third again at the time of the second; the fifth without a time

    def with_wrong_times(self):
        for i, picture in enumerate(pictures(self)):
            if i in wrong:
                picture.pts = None if wrong[i] is None else wrong[i] * 512
            yield picture

    with open_clip(filmed.path) as clip:
        monkeypatch.setattr(Decoding, "pictures", with_wrong_times)
        times = [frame.time_s for frame in clip.frames()]
    assert times == pytest.approx([0, 1 / 30, 3 / 30, 5 / 30])
    assert clip.n_dropped == 2


def test_the_first_video_stream_may_be_empty(tmp_path):
    path = tmp_path / "two.mp4"
    with av.open(str(path), "w") as out:
        streams = [out.add_stream("libx264", rate=30) for _ in range(2)]
        for stream in streams:
            stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for i in range(6):
            frame = av.VideoFrame(64, 48, "yuv420p")
            frame.pts = i
            out.mux(streams[1].encode(frame))
        out.mux(streams[1].encode(None))
    assert len(times_of(path)) == 6


@pytest.mark.parametrize(
    ("size", "rate", "words"),
    [
        pytest.param((640, 360), 15, r"15\.0 frames a second are too few.*at least 24", id="slow"),
        pytest.param((320, 180), 30, "320x180 pixels is too small.*at least 640x360", id="small"),
        pytest.param((1280, 240), 30, "1280x240 pixels is too small", id="flat"),
    ],
)
def test_too_little_to_measure_says_what_is_needed(film, size, rate, words):
    facts = open_clip(film(n=6, size=size, still=True, pts=range(6), ticks_a_second=rate).path).facts
    with pytest.raises(ClipError, match=words) as caught:
        check_measurable(facts)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("ticks", [1001, 1000], ids=["23.976", "24"])
def test_film_rates_and_portrait_are_enough(film, ticks):
    pts = [i * ticks for i in range(6)]
    filmed = film(n=6, size=(360, 640), still=True, pts=pts, ticks_a_second=24000)
    check_measurable(open_clip(filmed.path).facts)
