"""Film and measure scenes of chance and print what was found, what was wrong and what lies outside its u95.

    python tests/accuracy/run_chance.py 1 2 3

A scene takes two to eight minutes to film, on one core; films and measurements are kept (see ``filmed.py``).
A fault found here becomes a test of its own: a small one of the function, or a scene in ``life_scenes.py``.
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

import chance_scenes  # noqa: E402
import filmed  # noqa: E402
import scoring  # noqa: E402

CALLS = ("outcome", "gate_result", "lipped")


def words(scored: list[scoring.Scored]) -> list[str]:
    """What is wrong with the measured putts of one scene."""
    out = []
    for s in scored:
        calls = [(key, getattr(s.putt, key), s.truth[key]) for key in CALLS if s.putt is not None]
        out += [
            f"putt {s.truth['number']}: {key} {told}, not {true}" for key, told, true in calls if told != true
        ]
    for measure in scoring.MEASURES:
        errors = scoring.errors(scored, measure)
        out += [
            f"{measure.words} off by {error:+.2f} {measure.unit} (u95 {u95:.2f})"
            for error, u95 in zip(errors.error, errors.u95, strict=True)
            if abs(error) > u95
        ]
    return out


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("seeds", type=int, nargs="+", metavar="SEED")
    options = parser.parse_args(arguments)
    scored: list[scoring.Scored] = []
    n_invented = 0
    for seed in options.seeds:
        makings = str(seed) + Path(chance_scenes.__file__).read_text()
        clip = filmed.filmed(f"chance_{seed:03d}", makings, lambda seed=seed: chance_scenes.scene(seed))
        told = clip.truth["clip"]
        slow = told["fps_of_file"] != told["fps_nominal"]
        sheet, why_not = filmed.measured(clip, told["fps_nominal"] if slow else None)
        these = scoring.score({}, clip.truth["putts"], sheet)
        scored += these
        n_invented += scoring.invented(these, sheet)
        found = sum(s.putt is not None for s in these)
        print(f"{seed}: {told['what']}: {found} of {len(these)} found{': ' if why_not else ''}{why_not}")
        for fault in words(these):
            print(f"    {fault}", flush=True)
    print(scoring.table(scored, n_invented, "Measured on scenes of chance."))
    return 0


if __name__ == "__main__":
    sys.exit(main())
