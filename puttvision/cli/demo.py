"""``puttvision demo``: the main job on the clip that ships with the program."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

CLIP = "quillow_ball_gate.mp4"
DRILL = "ball-gate-points"
N_PUTTS = 5


def demo(
    out: Annotated[Path, typer.Option(help="Folder for the results; made where it is missing.")] = Path(
        "demo-out"
    ),
) -> None:
    """Measure and score the bundled clip: five putts through a ball gate at Quillow Park.

    The clip is a rendered scene of an invented club, so the true figures are known; they lie beside
    it in sample_media.
    """
    from puttvision.cli.drill_choice import choose, drill_options
    from puttvision.cli.measure import PUTTS_FILE, measure_to
    from puttvision.cli.score import SCORECARD_FILE
    from puttvision.cli.score_table import print_scorecard
    from puttvision.cli.table import print_putts
    from puttvision.drill.scorecard import score
    from puttvision.files import write_json
    from puttvision.resources import shipped

    sheet = measure_to(shipped("sample_media", CLIP), out, quiet=False)
    print_putts(sheet)
    card = score(choose(DRILL, drill_options(None, N_PUTTS, False, None, None)), sheet.putts)
    write_json(out / SCORECARD_FILE, card.to_json())
    typer.echo("")
    print_scorecard(card)
    typer.echo(f"written: {out / PUTTS_FILE}\nwritten: {out / SCORECARD_FILE}")
