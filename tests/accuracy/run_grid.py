"""Film and measure the whole grid and print its table.

    python tests/accuracy/run_grid.py --out grid.md

It takes some hours on one core and may be stopped at any time: films and measurements are kept (see
``filmed.py``), a second run makes only what is missing, and measures anew only where the measuring code has
changed. The table is written anew after every clip.
"""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).resolve().parent)]

import filmed  # noqa: E402
import grid  # noqa: E402
import scoring  # noqa: E402

from puttvision.files import write_text  # noqa: E402


def film(at: grid.Conditions) -> filmed.Filmed:
    """A clip of the grid."""
    makings = repr(at) + Path(grid.__file__).read_text()
    return filmed.filmed(f"grid_{at.number:03d}", makings, lambda: grid.scene(at))


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--out", type=Path, help="Markdown file for the table; printed too")
    parser.add_argument(
        "--clips", type=int, default=grid.FULL_CLIPS, help="only so many clips, from the first"
    )
    parser.add_argument("--films-only", action="store_true", help="film, but do not measure")
    parser.add_argument("--small", action="store_true", help="the small grid of the tests")
    options = parser.parse_args(arguments)
    scored: list[scoring.Scored] = []
    clips: list[scoring.Clip] = []
    n_invented = 0
    text = ""
    for at in (grid.small() if options.small else grid.full())[: options.clips]:
        clip = film(at)
        if options.films_only:
            continue
        sheet, why_not = filmed.measured(clip)
        these = scoring.score(at.names(), clip.truth["putts"], sheet)
        scored += these
        clips.append((clip.truth, sheet))
        n_invented += scoring.invented(these, sheet)
        text = scoring.table(scored, n_invented, "Measured on the filmed grid of `tests/accuracy`.", clips)
        if options.out is not None:
            write_text(options.out, text)
        found = sum(s.putt is not None for s in these)
        print(
            f"{clip.path}: {clip.truth['clip']['what']}: {found} of {len(these)} found"
            f"{', ' + why_not if why_not else ''}",
            file=sys.stderr,
            flush=True,
        )
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
