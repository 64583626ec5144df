"""A stretch of a clip: the same frames as reading it whole, its sound in step, and writing it anew."""

from fractions import Fraction

import av
import numpy as np
import pytest

from puttvision.clip.sound import RATE_HZ, has_sound, sound_of
from puttvision.clip.source import open_clip
from puttvision.clip.writer import ClipWriter


@pytest.mark.parametrize(("from_s", "until_s"), [(0.0, 0.5), (0.4, 1.1), (0.95, 1.0), (1.8, 9.0), (5.0, 6.0)])
@pytest.mark.parametrize("key_every", [4, 60])
def test_a_span_holds_the_frames_of_its_time(film, from_s, until_s, key_every):
    filmed = film(n=60, key_every=key_every)
    with open_clip(filmed.path) as clip:
        whole = [(frame.time_s, frame.luma.copy()) for frame in clip.frames()]
        span = [(frame.time_s, frame.luma.copy()) for frame in clip.span(from_s, until_s)]
    due = [(t, luma) for t, luma in whole if from_s - 1e-4 <= t < until_s - 1e-4]
    assert [t for t, _ in span] == pytest.approx([t for t, _ in due])
    for (_, got), (_, expected) in zip(span, due, strict=True):
        np.testing.assert_array_equal(got, expected)


def with_sound(path, *, late_s=0.0, seconds=3.0):
    """A film of that length; one click a second in the sound, whose track starts ``late_s`` later."""
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=30)
        video.width, video.height, video.pix_fmt = 64, 48, "yuv420p"
        sound = out.add_stream("aac", rate=RATE_HZ)
        sound.layout = "mono"
        grey = np.full((72, 64), 128, np.uint8)
        for k in range(round(seconds * 30)):
            frame = av.VideoFrame.from_ndarray(grey, format="yuv420p")
            frame.pts, frame.time_base = k, Fraction(1, 30)
            out.mux(video.encode(frame))
        out.mux(video.encode(None))
        time_s = np.arange(round((seconds - late_s) * RATE_HZ)) / RATE_HZ + late_s
        wave = np.where((time_s % 1.0) < 0.02, 0.8 * np.sin(2 * np.pi * 1000 * time_s), 0.0)
        for at in range(0, len(wave), 1024):
            samples = wave[None, at : at + 1024].astype(np.float32)
            block = av.AudioFrame.from_ndarray(samples, format="fltp", layout="mono")
            block.sample_rate, block.time_base = RATE_HZ, Fraction(1, RATE_HZ)
            block.pts = at + round(late_s * RATE_HZ)
            out.mux(sound.encode(block))
        out.mux(sound.encode(None))
    return path


def clicks(wave):
    """Seconds at which clicks begin."""
    loud = np.abs(wave).max(axis=0) > 0.2
    starts = np.nonzero(loud & ~np.concatenate([[False], loud[:-1]]))[0] / RATE_HZ
    return [float(t) for k, t in enumerate(starts) if k == 0 or t - starts[k - 1] > 0.3]


@pytest.mark.parametrize("late_s", [0.0, 0.5])
@pytest.mark.parametrize(("from_s", "until_s"), [(0.0, 3.0), (0.4, 2.2), (1.7, 2.9)])
def test_sound_is_in_step_and_exactly_as_long(tmp_path, late_s, from_s, until_s):
    path = with_sound(tmp_path / "c.mp4", late_s=late_s)
    assert has_sound(path)
    with open_clip(path) as clip:
        wave = np.concatenate(list(sound_of(clip, from_s, until_s)), axis=1)
    assert wave.shape == (2, round((until_s - from_s) * RATE_HZ))
    due = [t - from_s for t in (0.0, 1.0, 2.0) if from_s <= t < until_s and t >= late_s]
    assert clicks(wave) == pytest.approx(due, abs=0.015)


def test_sound_that_ends_early_is_filled_with_silence(tmp_path):
    path = with_sound(tmp_path / "c.mp4", seconds=1.5)
    with open_clip(path) as clip:
        wave = np.concatenate(list(sound_of(clip, 1.0, 4.0)), axis=1)
    assert wave.shape == (2, 3 * RATE_HZ)
    assert np.abs(wave[:, RATE_HZ:]).max() == 0


def test_a_film_without_sound_has_none(film):
    assert not has_sound(film(n=4).path)


def test_the_writer_refuses_pictures_out_of_order_and_odd_sizes(tmp_path):
    with pytest.raises(ValueError, match="even sizes"):
        ClipWriter(tmp_path / "o.mp4", 63, 48, rate_hz=30, sound=False)
    with ClipWriter(tmp_path / "o.mp4", 64, 48, rate_hz=30, sound=False) as out:
        for plane in (first := out.open_picture()).luma, first.cb, first.cr:
            plane[:] = 128
        out.write(first, 0.1, 1 / 30)
        with pytest.raises(ValueError, match="in order of time"):
            out.write(first, 0.1, 1 / 30)


def test_written_times_and_full_range_are_kept(tmp_path):
    times = [0.0, 1 / 60, 2 / 60, 2 / 60 + 1 / 15, 2 / 60 + 2 / 15]
    with ClipWriter(tmp_path / "o.mp4", 64, 48, rate_hz=60, sound=True, full_range=True) as out:
        for k, t in enumerate(times):
            picture = out.open_picture()
            picture.luma[:], picture.cb[:], picture.cr[:] = 10 * k, 128, 128
            out.write(picture, t, 1 / 15)
    with av.open(str(tmp_path / "o.mp4")) as container:
        frames = list(container.decode(video=0))
        video = container.streams.video[0]
        assert [float(f.time) for f in frames] == pytest.approx(times, abs=2e-5)
        assert float(video.duration * video.time_base) == pytest.approx(times[-1] + 1 / 15, abs=1e-4)
        assert frames[0].color_range == 2
