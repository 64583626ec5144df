"""A process of its own that measures a clip or makes a preview, so that the page goes on answering.

``python -m puttvision.review.page.worker`` reads one JSON object from standard input (an order of ``jobs``)
and writes one a line to its output: ``{"done_s": .., "total_s": ..}`` as it goes, then ``{"done": true}``
or ``{"error": ".."}``.
"""

from __future__ import annotations

import json
import os
import sys
import time
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from puttvision.errors import PuttvisionError
from puttvision.files import write_json, write_text
from puttvision.putts import to_json
from puttvision.review.page.shelf import PREVIEW_FILE, PUTTS_FILE, SCENE_FILE
from puttvision.scene import to_text

_TELL_EVERY_S = 0.2


def main() -> int:
    """Do what the order on standard input says."""
    order = json.load(sys.stdin)
    with suppress(AttributeError, OSError):
        os.nice(5)  # the page and the coach's other programs come first
    told = _Teller()
    clip, folder = Path(order["clip"]), Path(order["folder"])
    try:
        if order["task"] == "preview":
            from puttvision.review.page.preview import make_preview

            make_preview(clip, folder / PREVIEW_FILE, told)
        else:
            measure(clip, folder, order, told)
    except PuttvisionError as err:
        _say({"error": str(err).replace(str(clip), clip.name)})
        return 1
    _say({"done": True})
    return 0


def measure(clip: Path, folder: Path, order: dict[str, Any], told: Any) -> None:
    """Measure, and write what the page needs; the clip is called as it was on the coach's phone."""
    from puttvision.putt.measure import measure_clip
    from puttvision.review.page.by_hand import options

    measurement = measure_clip(clip, options(order["by_hand"]), told)
    sheet = measurement.sheet
    if sheet.clip and order["name"]:
        sheet = replace(sheet, clip=replace(sheet.clip, file=order["name"]))
    write_text(folder / SCENE_FILE, to_text(measurement.scene))
    write_json(folder / PUTTS_FILE, to_json(sheet))


class _Teller:
    """Says how far the work is, now and then."""

    def __init__(self) -> None:
        self._last = 0.0

    def __call__(self, done_s: float, total_s: float) -> None:
        now = time.monotonic()
        if now - self._last > _TELL_EVERY_S or done_s >= total_s:
            self._last = now
            _say({"done_s": round(done_s, 2), "total_s": round(total_s, 2)})


def _say(data: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(data) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
