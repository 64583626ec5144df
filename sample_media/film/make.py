"""Film a named clip: ``python -m sample_media.film NAME --out DIR`` (``--list`` names them)."""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import cv2

from puttvision.files import write_text
from sample_media.film import encode, play, render
from sample_media.film import truth as truths
from sample_media.film.clips import CLIPS
from sample_media.film.render import Frame
from sample_media.film.scene import Scene


def film(scene: Scene, folder: Path, progress: bool = False) -> Path:
    """Film a scene: ``folder/NAME.mp4`` and ``NAME.truth.json``; gives the clip's path."""
    script = play.script(scene)
    path = folder / f"{scene.name}.mp4"
    frames = render.render(script)
    total = len(render.frame_times(script))
    n = encode.write(path, scene, _counted(frames, total) if progress else frames)
    write_text(folder / f"{scene.name}.truth.json", json.dumps(truths.truth(script, n)) + "\n")
    return path


def _counted(frames: Iterator[Frame], total: int) -> Iterator[Frame]:
    began = time.monotonic()
    for frame in frames:
        yield frame
        if frame.number % 60 == 59 or frame.number + 1 == total:
            pace = (time.monotonic() - began) / (frame.number + 1)
            print(
                f"\r{frame.number + 1} of {total} frames, {pace:.3f} s each",
                end="",
                file=sys.stderr,
                flush=True,
            )
    print(file=sys.stderr)


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(prog="python -m sample_media.film", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help="clips to film; none: all")
    parser.add_argument("--out", type=Path, default=Path(), metavar="DIR", help="where to write (here)")
    parser.add_argument("--list", action="store_true", help="name the clips and leave")
    options = parser.parse_args(arguments)
    if options.list:
        for scene in CLIPS.values():
            print(f"{scene.name}: {scene.what}")
        return 0
    unknown = [n for n in options.names if n not in CLIPS]
    if unknown:
        parser.error(f"no clip called {', '.join(unknown)}; there are {', '.join(CLIPS)}")
    cv2.setNumThreads(1)
    for name in options.names or CLIPS:
        path = film(CLIPS[name], options.out, progress=True)
        print(f"{path} ({path.stat().st_size / 1e6:.2f} MB)")
    return 0
