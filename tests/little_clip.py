"""A clip of one putt, filmed with ``little_green`` and ``little_sheet`` and packed by FFmpeg through PyAV.

1280 x 720, 30 frames a second, 2.3 s: a ball 5.3 ft from the hole, two white tees 0.45 m ahead of it, two
sheets. It is struck at 0.6 s with 2.0 m/s, half a degree to the right, goes between the tees and drops.
All rows are exposed at once.
"""

from fractions import Fraction

import av
import cv2
import numpy as np
from little_green import Reel, Scene, Tee, View
from little_sheet import lay

VIEW = View(width=1280, height=720, f_px=940, height_m=1.25, tilt_deg=27)
HOLE_M, LIE_M = np.array([0.85, 2.75]), np.array([-0.75, 2.5])
ALONG = (HOLE_M - LIE_M) / np.hypot(*(HOLE_M - LIE_M))
RIGHT = np.array([ALONG[1], -ALONG[0]])
SHEETS = {0: (-1.05, 2.15, 0.3), 3: (1.15, 2.4, -1.0)}
RATE_HZ, STRUCK_S, LENGTH_S = 30, 0.6, 2.3
LAUNCH_M_S, RIGHT_DEG, BRAKE_M_S2, SLIDE_M_S2 = 2.0, 0.5, 0.58, 0.4 * 9.80665
WHITE = (0.8, 0.8, 0.75)
TEES_M = tuple(tuple(LIE_M + 0.45 * ALONG + side * 0.042 * RIGHT) for side in (-1, 1))


def travelled_m(time_s):
    """Skid, then roll: textbook mechanics of a solid sphere."""
    t = max(0.0, time_s - STRUCK_S)
    skid_s, skid_m = 2 * LAUNCH_M_S / (7 * SLIDE_M_S2), 12 * LAUNCH_M_S**2 / (49 * SLIDE_M_S2)
    if t < skid_s:
        return LAUNCH_M_S * t - SLIDE_M_S2 * t * t / 2
    v = 5 / 7 * LAUNCH_M_S
    t = min(t - skid_s, v / BRAKE_M_S2)
    return skid_m + v * t - BRAKE_M_S2 * t * t / 2


def pictures(right_deg=RIGHT_DEG, tees_m=TEES_M, tee_colour=WHITE):
    """Luma of every frame; for another start line, other tees."""
    turn = np.radians(right_deg)
    way = np.cos(turn) * ALONG + np.sin(turn) * RIGHT
    stage = Scene(hole_m=tuple(HOLE_M), tees=tuple(Tee(at, colour=tee_colour) for at in tees_m))
    reel = Reel(
        VIEW, stage, n=2, lay=lambda luma: [lay(VIEW, luma, i, *place) for i, place in SHEETS.items()]
    )
    gone = False
    for k in range(round(LENGTH_S * RATE_HZ)):
        at = LIE_M + way * travelled_m(k / RATE_HZ)
        gone = gone or np.hypot(*(at - HOLE_M)) < 0.045
        yield reel.frame() if gone else reel.frame([stage.with_ball(at)], [at])


def turned(turn_rad=(0.006, -0.011, 0.005)):
    """Pixels before to pixels after the camera is turned, shape (3, 3): some 10 px to one side and 6 up."""
    to_px = np.array([[VIEW.f_px, 0, (VIEW.width - 1) / 2], [0, VIEW.f_px, (VIEW.height - 1) / 2], [0, 0, 1]])
    return to_px @ cv2.Rodrigues(np.array(turn_rad))[0] @ np.linalg.inv(to_px)


def bumped(lumas, bump_s):
    """The same as seen by a camera that is turned from a time on."""
    size, edge = (VIEW.width, VIEW.height), cv2.BORDER_REPLICATE
    for k, luma in enumerate(lumas):
        after = cv2.warpPerspective(luma, turned(), size, flags=cv2.INTER_CUBIC, borderMode=edge)
        yield after if k / RATE_HZ >= bump_s else luma


def seen_px(time_s, height_m, *, bump=False):
    """Where the ball's place is in the picture, at a height above the plane; after a bump."""
    px = VIEW.project([*place_m(time_s), height_m])
    return cv2.perspectiveTransform(px[None, None], turned())[0, 0] if bump else px


def place_m(time_s):
    """The ball's place on the plane."""
    turn = np.radians(RIGHT_DEG)
    return LIE_M + (np.cos(turn) * ALONG + np.sin(turn) * RIGHT) * travelled_m(time_s)


def pack(path, lumas, rate_hz=RATE_HZ):
    """Write grey pictures as H.264 in an .mp4 whose index comes first, as for streaming."""
    with av.open(str(path), "w", options={"movflags": "faststart"}) as out:
        stream = out.add_stream("libx264", rate=rate_hz)
        stream.time_base = Fraction(1, rate_hz)
        stream.options = {"crf": "18", "preset": "ultrafast", "g": "15"}
        for luma in lumas:
            height, width = luma.shape
            if not stream.codec_context.is_open:
                stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
            grey = np.full((height // 2, width), 128, np.uint8)
            picture = av.VideoFrame.from_ndarray(np.concatenate([luma, grey]), format="yuv420p")
            for packet in stream.encode(picture):
                out.mux(packet)
        for packet in stream.encode():
            out.mux(packet)
    return path
