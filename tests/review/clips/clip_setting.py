"""A filmed putt of known pixels: a plain grey film with a white ball, its scene and its figures.

The film is made here, frame by frame; the scene is worked out with a camera of its own, so what is drawn can
be told from what was filmed: the film is grey without colour except where the ball is.
"""

from dataclasses import asdict
from fractions import Fraction

import av
import numpy as np

from puttvision.green.camera import Camera
from puttvision.physics import BALL_RADIUS_M
from puttvision.putts import ClipInfo, Figure, Gate, Green, Putt, PuttSheet
from puttvision.scene import AtHole, PuttPath, Scene, Seen, Step, View

WIDTH, HEIGHT, RATE_HZ, LENGTH_S = 640, 360, 30, 7.0
CAMERA = Camera(
    width=WIDTH, height=HEIGHT, f_px=470.0, cx_px=319.5, cy_px=179.5, k1=-0.30, k2=0.08, height_m=1.4,
    tilt_rad=0.42, roll_rad=0.02,
)  # fmt: skip
LIE_M, HOLE_M = np.array([-1.0, 2.1]), np.array([1.0, 2.3])
STARTS_S, BRAKE_M_S2, LAUNCH_M_S = (1.5, 4.6), 0.55, 1.9
HEADING = float(np.arctan2(*(HOLE_M - LIE_M)[::-1])) - np.radians(0.4)
GREY, WHITE = 90, 230


def travelled(t):
    t = np.clip(t, 0, LAUNCH_M_S / BRAKE_M_S2)
    return LAUNCH_M_S * t - BRAKE_M_S2 * t * t / 2


def place(t):
    """Where a ball is ``t`` seconds after its start."""
    return LIE_M + travelled(np.asarray(t, float))[..., None] * np.array([np.cos(HEADING), np.sin(HEADING)])


def arrives_s():
    length = float(np.hypot(*(HOLE_M - LIE_M)))
    times = np.arange(0, 3, 1e-4)
    return float(times[np.argmax(travelled(times) >= length - 0.02)])


ROLLS_S = arrives_s()


def ball_px(at_m):
    return CAMERA.project([*at_m, BALL_RADIUS_M])


def ball_at(time_s):
    """The ball's place on the plane at a time of the film; None once it is in the hole."""
    latest = max((s for s in STARTS_S if s - 0.5 <= time_s), default=STARTS_S[0])
    return None if time_s - latest > ROLLS_S else place(time_s - latest)


def frame_luma(time_s):
    luma = np.full((HEIGHT, WIDTH), GREY, np.uint8)
    at = ball_at(time_s)
    if at is not None:
        x, y = ball_px(at)
        radius = CAMERA.px_per_m([*at, BALL_RADIUS_M]) * BALL_RADIUS_M
        rows, columns = np.ogrid[:HEIGHT, :WIDTH]
        luma[(columns - x) ** 2 + (rows - y) ** 2 <= radius**2] = WHITE
    return luma


def scene():
    putts = []
    for number, start in enumerate(STARTS_S, start=1):
        frames = np.arange(int(start * RATE_HZ) + 1, int((start + ROLLS_S) * RATE_HZ) + 1) / RATE_HZ
        seen = []
        for t in frames:
            at = place(t - start)
            radius = CAMERA.px_per_m([*at, BALL_RADIUS_M]) * BALL_RADIUS_M
            seen.append(Seen(float(t), *map(float, ball_px(at)), float(radius)))
        times = np.linspace(0, ROLLS_S, 60)
        path = [
            Step(float(start + t), *map(float, place(t)), float(LAUNCH_M_S - BRAKE_M_S2 * t)) for t in times
        ]
        end = np.array(path[-1][1:3])
        putts.append(
            PuttPath(
                number=number, lie_m=tuple(LIE_M), heading_rad=HEADING, start_s=start,
                end_s=start + ROLLS_S, seen=tuple(seen), path=tuple(path),
                at_hole=AtHole(nearest_m=tuple(end), heading_rad=HEADING, time_s=start + ROLLS_S),
                rest_m=None,
            )
        )  # fmt: skip
    along = (HOLE_M - LIE_M) / np.hypot(*(HOLE_M - LIE_M))
    right = np.array([along[1], -along[0]])
    gate = LIE_M + 0.45 * along
    return Scene(
        view=View(**asdict(CAMERA)), readout_s=0.0, hole_m=tuple(HOLE_M),
        posts_m=(tuple(gate - 0.035 * right), tuple(gate + 0.035 * right)), post_height_m=0.04,
        putts=tuple(putts),
    )  # fmt: skip


def sheet():
    putts = tuple(
        Putt(
            number=number, outcome="holed", start_s=Figure(start, 0.01),
            start_direction_to_hole_deg=Figure(0.4, 0.2), start_direction_to_gate_deg=Figure(0.4, 0.2),
            launch_speed_m_s=Figure(1.88, 0.02), gate_result="clear", gate_offset_mm=Figure(3.1, 1.0),
            hole_offset_mm=Figure(14.8, 3.0), speed_at_hole_m_s=Figure(1.2, 0.05), run_out_m=Figure(0.9, 0.1),
        )
        for number, start in enumerate(STARTS_S, start=1)
    )  # fmt: skip
    return PuttSheet(
        putts=putts,
        clip=ClipInfo(file="c.mp4", duration_s=LENGTH_S, frames=210, width=WIDTH, height=HEIGHT),
        green=Green(sheets=(0,), reprojection_rms_px=0.2, hole_px=None),
        gate=Gate(distance_m=Figure(0.45, 0.01), width_mm=Figure(65, 3), square_deg=Figure(0, 1)),
    )


def write_film(path, *, tone_hz=None, size=(WIDTH, HEIGHT)):
    """The film; with a tone where asked, 48 kHz mono."""
    with av.open(str(path), "w") as out:
        video = out.add_stream("libx264", rate=RATE_HZ)
        video.width, video.height, video.pix_fmt = *size, "yuv420p"
        video.options = {"crf": "8", "preset": "ultrafast", "g": "15"}
        sound = None
        if tone_hz:
            sound = out.add_stream("aac", rate=48000)
            sound.layout = "mono"
            wave = 0.4 * np.sin(2 * np.pi * tone_hz * np.arange(int(48000 * LENGTH_S)) / 48000)
            wave[:48000] = 0  # the first second is silent
            for at in range(0, len(wave), 1024):
                block = av.AudioFrame.from_ndarray(
                    wave[None, at : at + 1024].astype(np.float32), format="fltp", layout="mono"
                )
                block.sample_rate, block.pts, block.time_base = 48000, at, Fraction(1, 48000)
                out.mux(sound.encode(block))
            out.mux(sound.encode(None))
        for k in range(int(LENGTH_S * RATE_HZ)):
            luma = frame_luma(k / RATE_HZ)
            if size != (WIDTH, HEIGHT):
                luma = np.rot90(luma)  # stored lying on its side
            grey = np.full((luma.shape[0] // 2, luma.shape[1]), 128, np.uint8)
            frame = av.VideoFrame.from_ndarray(
                np.ascontiguousarray(np.concatenate([luma, grey])), format="yuv420p"
            )
            frame.pts, frame.time_base = k, Fraction(1, RATE_HZ)
            out.mux(video.encode(frame))
        out.mux(video.encode(None))
    return path


def decoded(path):
    """Times and Y'CbCr planes of every frame."""
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            planes = frame.to_ndarray(format="yuv420p")
            height, width = frame.height, frame.width
            luma, rest = planes[:height], planes[height:].reshape(2, height // 2, width // 2)
            yield float(frame.time), luma, rest[0], rest[1]
