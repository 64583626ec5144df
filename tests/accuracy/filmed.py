"""Films on demand, measured once: both are kept in a cache folder and made anew when their makings change.

The folder is ``PUTTVISION_FILMS`` where that is set, else this user's cache folder. A film's key is its scene
and the code that films; a measurement's key is its film, its options and the code that measures.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
from platformdirs import user_cache_path

from puttvision.errors import PuttvisionError
from puttvision.files import write_json
from puttvision.green.lens import Lens
from puttvision.putt.assemble import Readout
from puttvision.putt.known_lens import KnownLens
from puttvision.putt.measure import Options, measure_clip
from puttvision.putts import PuttSheet, from_json, to_json
from sample_media.film.make import film
from sample_media.film.scene import Camera, Scene

_ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True, slots=True)
class Filmed:
    """A film with its truth."""

    path: Path
    truth: dict[str, Any]


def cache() -> Path:
    """Where films and measurements are kept."""
    chosen = os.environ.get("PUTTVISION_FILMS")
    return Path(chosen) if chosen else user_cache_path("puttvision-films", appauthor=False)


def filmed(name: str, makings: str, make: Callable[[], Scene]) -> Filmed:
    """The film of that name, from the cache or made now; ``makings`` are all that its scene comes from."""
    folder = cache() / f"{name}-{_key(makings, _code('sample_media/film'))}"
    path, truth = folder / f"{name}.mp4", folder / f"{name}.truth.json"
    if not truth.exists():  # written last
        folder.mkdir(parents=True, exist_ok=True)
        cv2.setNumThreads(1)
        with tempfile.TemporaryDirectory(dir=folder) as half_made:
            film(replace(make(), name=name), Path(half_made)).replace(path)
            (Path(half_made) / truth.name).replace(truth)
    return Filmed(path, json.loads(truth.read_text()))


def measured(
    clip: Filmed, capture_rate_hz: float | None = None, lens: KnownLens | None = None
) -> tuple[PuttSheet | None, str]:
    """The sheet of a film's putts as measured, from the cache or measured now; None and why not."""
    options = Options(threads=1, capture_rate_hz=capture_rate_hz, lens=lens)
    kept = clip.path.with_name(f"putts-{_key(repr(options), _code('puttvision'))}.json")
    if not kept.exists():
        began_s = time.process_time()
        try:
            result = {"sheet": to_json(measure_clip(clip.path, options).sheet)}
        except PuttvisionError as error:
            result = {"error": str(error)}
        write_json(kept, {**result, "cpu_s": round(time.process_time() - began_s, 2)})
    result = json.loads(kept.read_text())
    return (None, result["error"]) if "error" in result else (from_json(result["sheet"]), "")


def profile(camera: Camera) -> KnownLens:
    """A lens profile as `puttvision lens` would make it of a scene's camera: right to its own uncertainty."""
    k1, k2, p1, p2, k3 = camera.distortion
    lens = Lens(
        width=camera.width,
        height=camera.height,
        f_share=camera.focal_px * 1.0015 / camera.width,
        u_f_share=0.001,
        centre_share=(
            (camera.centre_px[0] + 0.7 - (camera.width - 1) / 2) / camera.width,
            (camera.centre_px[1] - 0.5 - (camera.height - 1) / 2) / camera.width,
        ),
        u_centre_share=0.0006,
        coefficients=(k1 + 0.002, k2 - 0.0015, p1, p2, k3, 0.0, 0.0, 0.0),
        model="radial and tangential",
        rms_px=0.2,
        n_views=30,
        sees_share=1.0,
    )
    readout = Readout(seconds=camera.readout_s * 1.05, u_seconds=0.1 * camera.readout_s)
    return KnownLens(name="of-the-scene", prior=lens.prior(), readout=readout)


def _key(*makings: str) -> str:
    return hashlib.sha256("\n".join(makings).encode()).hexdigest()[:12]


@lru_cache
def _code(package: str) -> str:
    """A hash of a package's code that takes part, as it is when first asked for: what draws pictures and
    pages of a clip does not."""
    done = hashlib.sha256()
    parts = ("",) if package != "puttvision" else ("clip", "green", "ball", "putt", "physics.py")
    for part in parts:
        place = _ROOT / package / part
        for path in [place] if place.is_file() else sorted(place.rglob("*.py")):
            done.update(path.read_bytes())
    return done.hexdigest()
