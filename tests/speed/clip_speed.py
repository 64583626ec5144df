"""How fast annotated clips are written, against plain re-encoding of the same frames, and in what memory.

    python tests/speed/clip_speed.py CLIP MEASURED [--seconds 10] [--repeat 1]

MEASURED is the folder that `puttvision measure CLIP` wrote. Both ways read and write the same stretch of film
with the same encoder; each runs in a process of its own so that its peak memory is its own. ``--repeat N``
draws the stretch N times over: memory must not grow.
"""

import argparse
import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from puttvision import putts, scene
from puttvision.clip.source import open_clip
from puttvision.clip.writer import ClipWriter
from puttvision.drill.catalogue import load
from puttvision.review.clips import make
from puttvision.review.clips.spans import Span


def plain(clip_path, seconds, repeat, out):
    """Decode and encode."""
    n = 0
    with open_clip(clip_path) as clip:
        facts = clip.facts
        each = 1 / facts.nominal_rate_hz
        with ClipWriter(out, facts.width, facts.height, rate_hz=1 / each, sound=False) as writer:
            for _ in range(repeat):
                for frame in clip.span(0.0, seconds):
                    picture = make._filled(writer.open_picture(), frame, 1.0)
                    writer.write(picture, n * each, each)
                    n += 1
    return n, n * each


def annotated(clip_path, measured, seconds, repeat, out):
    """The same stretch with everything drawn on it."""
    with open_clip(clip_path) as clip:
        studio = make.Studio(
            clip, putts.load(measured / "putts.json"), scene.load(measured / "scene.json"),
            load("ball-gate-points"),
        )  # fmt: skip
        studio.sound = False
        make._write(studio, studio.filmed, [Span(0.0, seconds)] * repeat, out, None)
        n = round(seconds / studio.frame_s) * repeat
        return n, n * studio.frame_s


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("clip", type=Path)
    parser.add_argument("measured", type=Path)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--repeat", type=int, default=1)
    parser.add_argument("--way", choices=["plain", "annotated"], help="internal: run one way here")
    given = parser.parse_args()
    if given.way is None:
        for way in ("plain", "annotated"):
            subprocess.run([sys.executable, __file__, *sys.argv[1:], "--way", way], check=True)
        return
    with TemporaryDirectory() as folder:
        out = Path(folder) / "out.mp4"
        began, used = time.perf_counter(), time.process_time()
        if given.way == "plain":
            n, film_s = plain(given.clip, given.seconds, given.repeat, out)
        else:
            n, film_s = annotated(given.clip, given.measured, given.seconds, given.repeat, out)
        wall, cpu = time.perf_counter() - began, time.process_time() - used
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{given.way:9}  {n} frames, {film_s:.1f} s of film in {wall:.1f} s ({film_s / wall:.2f} x real time)"
        f", cpu {cpu:.1f} s, peak {peak:.0f} MB"
    )


if __name__ == "__main__":
    main()
