"""Annotated clips, decoded again by PyAV: times, sound, what is drawn where, and what is never covered."""

import struct
from dataclasses import replace
from itertools import pairwise

import av
import clip_setting as film
import numpy as np
import pytest

from puttvision.clip.source import open_clip
from puttvision.drill.catalogue import load
from puttvision.errors import ClipError
from puttvision.physics import BALL_RADIUS_M
from puttvision.review.clips.make import Studio, write_drill, write_putt
from puttvision.review.clips.spans import BETWEEN_S, Span, of_drill, of_putt

FRAME_S = 1 / film.RATE_HZ


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("clips")
    film.write_film(folder / "c.mp4", tone_hz=440)
    with open_clip(folder / "c.mp4") as clip:
        studio = Studio(clip, film.sheet(), film.scene(), load("ball-gate-points"))
        write_putt(studio, studio.filmed[0], folder / "putt.mp4")
        write_drill(studio, folder / "drill.mp4")
    return folder


@pytest.fixture(scope="module")
def putt_frames(folder):
    return list(film.decoded(folder / "putt.mp4"))


def film_times(spans):
    """(time shown, time filmed, speed) of every frame that is due."""
    shown = 0.0
    for span in spans:
        k0 = int(np.ceil(span.from_s * film.RATE_HZ - 1e-6))
        k1 = int(np.ceil(min(span.until_s, film.LENGTH_S) * film.RATE_HZ - 1e-6))
        for k in range(k0, k1):
            yield shown + (k - k0) * FRAME_S / span.speed, k * FRAME_S, span.speed
        shown += (k1 - k0) * FRAME_S / span.speed


PUTT_SPANS = of_putt(film.STARTS_S[0], film.STARTS_S[0] + film.ROLLS_S, film.LENGTH_S)


def test_a_putt_is_shown_in_real_time_then_at_a_quarter(putt_frames):
    due = list(film_times(PUTT_SPANS))
    assert len(putt_frames) == len(due)
    np.testing.assert_allclose([f[0] for f in putt_frames], [d[0] for d in due], atol=2e-5)
    first = PUTT_SPANS[0]
    assert first.from_s == pytest.approx(film.STARTS_S[0] - 1.0)
    assert {speed for _, _, speed in due} == {1.0, 0.25}


def test_the_file_is_what_browsers_and_phones_play(folder):
    with av.open(str(folder / "putt.mp4")) as container:
        video = container.streams.video[0]
        assert (video.codec_context.name, video.codec_context.pix_fmt) == ("h264", "yuv420p")
        length = float(video.duration * video.time_base)
        due = list(film_times(PUTT_SPANS))
        assert length == pytest.approx(due[-1][0] + FRAME_S / 0.25, abs=1e-3)
    data = (folder / "putt.mp4").read_bytes()
    assert data.index(b"moov") < data.index(b"mdat"), "the index comes first: it plays while it loads"


def test_the_drill_leaves_out_what_lies_between():
    # 20 s between two putts of 2 s: a second before each and BETWEEN_S after
    spans = of_drill([(5.0, 7.0), (27.0, 29.0), (30.0, 31.0)], 100.0)
    assert spans == [Span(4.0, 7.0 + BETWEEN_S), Span(26.0, 31.0 + BETWEEN_S)]
    assert of_drill([(0.4, 2.0)], 2.5) == [Span(0.0, 2.5)]


def test_drill_clip_has_every_frame_of_its_stretches(folder):
    times = [(s, s + film.ROLLS_S) for s in film.STARTS_S]
    due = list(film_times(of_drill(times, film.LENGTH_S)))
    shown = [f[0] for f in film.decoded(folder / "drill.mp4")]
    assert len(shown) == len(due)
    np.testing.assert_allclose(shown, [d[0] for d in due], atol=2e-5)


def test_sound_is_kept_in_step(folder):
    # the film is silent for its first second, then sounds; the clip begins half a second into it
    with av.open(str(folder / "putt.mp4")) as container:
        assert container.streams.audio[0].codec_context.name == "aac"
        blocks = [(float(b.time), b.to_ndarray()) for b in container.decode(audio=0)]
    rate = 48000
    wave = np.concatenate([b[0] for _, b in blocks])
    begins = blocks[0][0]
    loud = np.abs(wave) > 0.1
    assert begins + np.argmax(loud) / rate == pytest.approx(1.0 - PUTT_SPANS[0].from_s, abs=0.03)
    stops = begins + (len(loud) - np.argmax(loud[::-1])) / rate
    assert stops == pytest.approx(PUTT_SPANS[0].shown_s, abs=0.06), "slow motion is silent"
    tone = wave[int(0.8 * rate) : int(1.8 * rate)]
    peak = np.argmax(np.abs(np.fft.rfft(tone * np.hanning(len(tone))))) * rate / len(tone)
    assert peak == pytest.approx(440, abs=2)


def test_path_is_drawn_within_a_pixel_of_the_projected_path(putt_frames):
    # The ribbon is what comes to the decoded picture while the ball rolls; its middle, column by column, is
    # compared with the path projected by the test's own camera.
    start = film.STARTS_S[0] - PUTT_SPANS[0].from_s
    before = next(luma for t, luma, *_ in putt_frames if t > start + 0.3).astype(float)
    after = putt_frames[-1][1].astype(float)
    times = np.linspace(0.5, film.ROLLS_S - 0.2, 400)
    px = film.CAMERA.project(np.column_stack([film.place(times), np.zeros(len(times))]))
    misses = []
    for x in np.unique(np.round(px[:, 0])).astype(int)[::4]:
        y = float(np.interp(x, px[:, 0], px[:, 1]))
        rows = np.arange(int(y) - 4, int(y) + 6)
        drawn = np.abs(after[rows, x] - before[rows, x])
        assert drawn.max() > 15, f"nothing is drawn at column {x}"
        misses.append(float((rows * drawn).sum() / drawn.sum()) - y)
    assert len(misses) > 30
    assert abs(np.median(misses)) < 0.3
    assert np.abs(misses).max() < 1.0


def test_path_grows_with_the_ball(putt_frames):
    start = film.STARTS_S[0] - PUTT_SPANS[0].from_s
    for share in (0.3, 0.6, 0.9):
        due = start + share * film.ROLLS_S
        _, _, cb, _cr = min(putt_frames, key=lambda f: abs(f[0] - due))
        done = film.place(share * film.ROLLS_S - 0.12)
        ahead = film.place(min(share * film.ROLLS_S + 0.15, film.ROLLS_S))
        drawn = []
        for at in (done, ahead):
            x, y = film.CAMERA.project([*at, 0.0]) / 2
            window = cb[int(y) - 1 : int(y) + 2, int(x) - 1 : int(x) + 2].astype(float)
            drawn.append(window)
        assert np.abs(drawn[0] - drawn[1]).max() > 3, share


def test_the_ball_is_never_covered(putt_frames):
    # the film has no colour at all: colour in the ball's disc would be paint
    for (_, luma, cb, cr), (_, filmed_s, _) in zip(putt_frames, film_times(PUTT_SPANS), strict=True):
        at = film.ball_at(filmed_s)
        if at is None:
            continue
        x, y = film.ball_px(at)
        radius = film.CAMERA.px_per_m([*at, BALL_RADIUS_M]) * BALL_RADIUS_M
        rows, columns = np.ogrid[: luma.shape[0], : luma.shape[1]]
        inside = (columns - x) ** 2 + (rows - y) ** 2 < (0.6 * radius) ** 2
        assert luma[inside].min() > film.WHITE - 40, filmed_s
        assert abs(int(cb[round((y - 0.5) / 2), round((x - 0.5) / 2)]) - 128) < 24
        assert abs(int(cr[round((y - 0.5) / 2), round((x - 0.5) / 2)]) - 128) < 24


def test_nothing_flickers(putt_frames):
    # after the call nothing changes but the clock: same paint, same samples
    last = [luma.astype(int) for t, luma, *_ in putt_frames if t > putt_frames[-1][0] - 1.2]
    assert len(last) > 5
    changed = np.max([np.abs(a - b) > 24 for a, b in pairwise(last)], axis=0)
    rows = np.nonzero(changed)[0]
    # all that changes lies in one line of text: the clock's
    assert len(rows) == 0 or np.ptp(rows) < 0.06 * film.HEIGHT


def test_a_picture_turned_by_the_phone_comes_out_upright(tmp_path):
    # the film lies on its side and a display matrix says so (QuickTime File Format, tkhd)
    path = film.write_film(tmp_path / "turned.mp4", size=(film.HEIGHT, film.WIDTH))
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4 + 40
    one = 1 << 16
    assert struct.unpack(">9i", data[at : at + 36]) == (one, 0, 0, 0, one, 0, 0, 0, 1 << 30)
    data[at : at + 36] = struct.pack(">9i", 0, one, 0, -one, 0, 0, 0, 0, 1 << 30)
    path.write_bytes(data)
    with open_clip(path) as clip:
        assert (clip.facts.width, clip.facts.height) == (film.WIDTH, film.HEIGHT)
        studio = Studio(clip, film.sheet(), film.scene(), None)
        write_putt(studio, studio.filmed[0], tmp_path / "putt.mp4")
    upright = list(film.decoded(tmp_path / "putt.mp4"))
    _, luma, *_ = upright[0]
    assert luma.shape == (film.HEIGHT, film.WIDTH)
    x, y = film.ball_px(film.LIE_M)
    assert luma[round(y), round(x)] > film.WHITE - 30


def test_another_clip_than_the_measured_one_is_refused(tmp_path):
    path = film.write_film(tmp_path / "c.mp4", size=(film.HEIGHT, film.WIDTH))
    with open_clip(path) as clip, pytest.raises(ClipError, match="give the clip that was measured"):
        Studio(clip, film.sheet(), film.scene(), None)


def test_a_clip_of_another_name_and_length_is_refused_and_a_renamed_copy_is_not(tmp_path):
    path = film.write_film(tmp_path / "renamed.mp4")
    with open_clip(path) as clip:
        measured = replace(film.sheet().clip, frames=clip.facts.n_frames_header)
        Studio(clip, replace(film.sheet(), clip=measured), film.scene(), None)
        other = replace(measured, frames=measured.frames + 1)
        with pytest.raises(ClipError, match=r"measured in c\.mp4"):
            Studio(clip, replace(film.sheet(), clip=other), film.scene(), None)
        Studio(clip, replace(film.sheet(), clip=replace(other, file="renamed.mp4")), film.scene(), None)


def test_a_clip_without_sound_gives_one_without_sound(tmp_path):
    path = film.write_film(tmp_path / "c.mp4")
    with open_clip(path) as clip:
        studio = Studio(clip, film.sheet(), film.scene(), None)
        write_drill(studio, tmp_path / "drill.mp4")
    with av.open(str(tmp_path / "drill.mp4")) as container:
        assert not container.streams.audio


def test_a_close_look_holds_the_frame_in_which_the_ball_went_through(folder):
    with open_clip(folder / "c.mp4") as clip:
        studio = Studio(clip, film.sheet(), film.scene(), None)
        drawing = studio.drawing(studio.filmed[0])
    at_hole = drawing.close[-1]
    assert at_hole.shows_s == pytest.approx(film.STARTS_S[0] + film.ROLLS_S, abs=1e-6)
    x, y, w, h = at_hole.from_px
    at = film.CAMERA.project([*film.HOLE_M, 0.0])
    assert x < at[0] < x + w
    assert y < at[1] < y + h
    # the enlarged hole's rim lies where the picture's own does, scaled about the window's corner
    place, frames = at_hole.place, list(film.decoded(folder / "putt.mp4"))
    zoom = place.w / w
    rim = film.CAMERA.project([*(film.HOLE_M + np.array([0.054, 0.0])), 0.0])
    due = np.array([place.x + (rim[0] + 0.5 - x) * zoom - 0.5, place.y + (rim[1] + 0.5 - y) * zoom - 0.5])
    after = frames[-1][1].astype(float)
    patch = after[round(due[1]) - 3 : round(due[1]) + 4, round(due[0]) - 3 : round(due[0]) + 4]
    assert patch.max() > film.GREY + 60, "the rim's bright line is there"
    before = frames[3][1].astype(float)
    inside = before[place.y + 4 : place.y + place.h - 4, place.x + 4 : place.x + place.w - 4]
    assert np.abs(inside - film.GREY).max() < 20, "nothing lies there before the moment"
