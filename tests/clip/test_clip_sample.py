"""Samples: spread over the clip, with the right times and pictures, and cheap."""

import numpy as np
import pytest

import puttvision.clip.sample as sample_module
from puttvision.clip import open_clip
from puttvision.errors import ClipError


def decoded_by(monkeypatch) -> list[int]:
    """Count the pictures that sampling decodes."""
    searches = []
    init = sample_module._Search.__init__

    def noted(self, *arguments):
        init(self, *arguments)
        searches.append(self)

    monkeypatch.setattr(sample_module._Search, "__init__", noted)
    return searches


def sampled(clip, filmed, n, ticks_a_second=30) -> list[float]:
    times = []
    for frame in clip.sample(n):
        assert frame.index == -1
        number = round(frame.time_s * ticks_a_second)
        np.testing.assert_array_equal(frame.luma, filmed.planes[number][0])
        times.append(frame.time_s)
    assert times == sorted(set(times))
    return times


@pytest.mark.parametrize("name", ["clip.mp4", "clip.mov", "clip.mkv"])
def test_key_frames_are_taken_where_they_are_dense(film, monkeypatch, name):
    searches = decoded_by(monkeypatch)
    filmed = film(name, n=120, key_every=6)
    with open_clip(filmed.path) as clip:
        times = sampled(clip, filmed, 10)
    assert len(times) == 10
    # one every 0.4 s, each at most half a step from the middle of its share
    assert np.abs(np.array(times) - (np.arange(10) + 0.5) * 0.4).max() <= 0.2 + 1e-9
    assert searches[0].n_decoded <= 12


def test_the_nearest_key_frame_is_taken_before_or_after(film):
    filmed = film(
        n=120, key_every=21
    )  # key frames at 0, 0.7, 1.4, 2.1, 2.8, 3.5 s; wanted 0.5, 1.5, 2.5, 3.5 s
    with open_clip(filmed.path) as clip:
        assert sampled(clip, filmed, 4) == pytest.approx([0.7, 1.4, 2.8, 3.5])


def test_decoding_runs_forward_where_key_frames_are_sparse(film, monkeypatch):
    searches = decoded_by(monkeypatch)
    filmed = film(n=120, key_every=60)
    with open_clip(filmed.path) as clip:
        times = sampled(clip, filmed, 12)
    assert len(times) == 12
    assert np.diff(times).max() <= 0.7
    assert times[-1] > 3.4
    assert searches[0].n_decoded <= 130  # none twice


@pytest.mark.parametrize(
    ("name", "muxer"),
    [
        pytest.param("clip.mkv", {"live": "1"}, id="matroska without index or length"),
        pytest.param("clip.mp4", {"movflags": "frag_keyframe+empty_moov"}, id="fragmented mp4"),
        pytest.param("clip.ts", {}, id="transport stream"),
    ],
)
def test_without_an_index(film, name, muxer):
    filmed = film(name, n=120, key_every=30, muxer=muxer)
    with open_clip(filmed.path) as clip:
        times = sampled(clip, filmed, 4)
    assert len(times) == 4
    assert times[-1] >= 2.0


def test_same_zero_as_frames_when_the_clip_starts_late(film):
    filmed = film(n=60, pts=[i + 300 for i in range(60)], key_every=15)
    with open_clip(filmed.path) as clip:
        times = sampled(clip, filmed, 4)
        all_times = {frame.time_s for frame in clip.frames()}
    assert set(times) <= all_times
    assert times[0] < 0.5


def test_with_b_frames_and_slow_motion(film):
    filmed = film(n=90, key_every=15, options={"preset": "fast", "bf": "2"})
    with open_clip(filmed.path, capture_rate_hz=240) as clip:
        times = sampled(clip, filmed, 6, ticks_a_second=240)
    assert len(times) == 6


def test_before_and_beside_the_frames(film):
    filmed = film(n=40, key_every=10)
    with open_clip(filmed.path) as clip:
        frames = clip.frames()
        first = next(frames)
        assert len(list(clip.sample(4))) == 4
        assert [first.index, *(frame.index for frame in frames)] == list(range(40))


@pytest.mark.parametrize("n", [1, 4, 9])
@pytest.mark.parametrize("key_every", [6, 21, 200])
def test_both_halves_at_once_give_what_one_pass_gives(film, n, key_every):
    filmed = film(n=120, key_every=key_every)
    with open_clip(filmed.path) as clip:
        together = clip.sample_together(n)
        assert [frame.time_s for frame in together] == [frame.time_s for frame in clip.sample(n)]
    for frame in together:
        np.testing.assert_array_equal(frame.luma, filmed.planes[round(frame.time_s * 30)][0])


def test_both_halves_give_up_on_endless_work(film, monkeypatch):
    monkeypatch.setattr(sample_module, "MAX_PICTURES_DECODED", 30)
    filmed = film(n=120, key_every=200)
    with open_clip(filmed.path) as clip:
        together = [frame.time_s for frame in clip.sample_together(8)]
        assert together == [frame.time_s for frame in clip.sample(8)]


def test_an_error_in_either_half_is_raised(film):
    filmed = film(n=40)
    with open_clip(filmed.path) as clip:
        filmed.path.unlink()
        with pytest.raises(ClipError, match="no such file"):
            clip.sample_together(4)


def test_more_samples_than_frames_gives_each_once(film):
    filmed = film(n=5)
    with open_clip(filmed.path) as clip:
        assert len(sampled(clip, filmed, 50)) == 5


def test_a_clip_that_is_cut_off_is_sampled_up_to_there(film):
    filmed = film(n=120, key_every=6, muxer={"movflags": "faststart"})
    data = filmed.path.read_bytes()
    filmed.path.write_bytes(data[: len(data) // 2])
    with open_clip(filmed.path) as clip:
        times = sampled(clip, filmed, 20)
    assert 8 <= len(times) <= 11
    assert times[-1] < 2.0


def test_sampling_gives_up_on_endless_work(film, monkeypatch):
    monkeypatch.setattr(sample_module, "MAX_PICTURES_DECODED", 30)
    filmed = film(n=120, key_every=200)
    with open_clip(filmed.path) as clip:
        times = sampled(clip, filmed, 8)
    assert 1 <= len(times) <= 4


def test_no_sample_is_wrong_usage(film):
    with open_clip(film().path) as clip, pytest.raises(ValueError, match="n=0"):
        next(clip.sample(0))
