"""``puttvision check``: a look at the set-up before the drill."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from puttvision.cli.clip_options import CaptureRate, Hole, NoGate, SheetCorners, parse_options
from puttvision.cli.lens_choice import LensName, with_lens
from puttvision.files import check_place, write_json

if TYPE_CHECKING:
    from puttvision.putt.check_clip import SetUpCheck
    from puttvision.putt.verdicts import Verdict

CHECK_FILE, PICTURE_FILE = "check.json", "check.png"
FORMAT = "puttvision-check/1"
_MARKS = {"mend": "mend", "could be better": "better", "good": "good"}


def check(
    clip: Annotated[
        Path, typer.Argument(help="A short clip of the set-up, a ball on its spot.", show_default=False)
    ],
    head: Annotated[
        float | None,
        typer.Option(metavar="MM", min=50, max=200, help="Width of the putter's head, heel to toe."),
    ] = None,
    out: Annotated[
        Path, typer.Option(help="Folder for check.png and check.json; made where it is missing.")
    ] = Path("check-out"),
    hole: Hole = None,
    no_gate: NoGate = False,
    sheet: SheetCorners = None,
    capture_rate: CaptureRate = None,
    lens: LensName = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print check.json instead of words.")] = False,
) -> None:
    """Look at the set-up before the drill, in seconds: what to mend first, then all that is good.

    Sheets, plane, hole and gate; whether the phone stands still; light and frame rate; how square the gate
    is and how much wider than ball or head; how sure start lines will be, and what would help most.
    """
    from puttvision.putt.check_clip import check_clip
    from puttvision.putt.known_lens import lens_notes
    from puttvision.putt.verdicts import verdicts
    from puttvision.review.setup_picture import write_picture

    options = with_lens(parse_options(hole, None, no_gate, capture_rate, sheet), clip, lens)
    check_place(out)
    found = check_clip(clip, options)
    said = verdicts(found, head)
    data = to_json(found, said)
    write_picture(found, said, out / PICTURE_FILE)
    write_json(out / CHECK_FILE, data)
    if as_json:
        typer.echo(json.dumps(data, indent=1, ensure_ascii=False))
        return
    for verdict in said:
        typer.echo(f"{_MARKS[verdict.grade]:>6}  {verdict.words}")
    for text in lens_notes(options.lens):
        typer.echo(f"note: {text}")
    typer.echo(f"written: {out / PICTURE_FILE}")


def to_json(found: SetUpCheck, said: list[Verdict]) -> dict[str, Any]:
    """The JSON object of a check; figures as in putts.json."""
    gate = found.gate
    figures = ("distance_m", "gap_mm", "square_deg", "off_mm")
    pose, hole = found.site.pose, found.site.hole
    return {
        "format": FORMAT,
        "clip": found.facts.file,
        "good": all(verdict.grade != "mend" for verdict in said),
        "verdicts": [{"about": v.about, "grade": v.grade, "words": v.words} for v in said],
        "sheets": sorted(pose.sheets),
        "reprojection_rms_px": round(pose.rms_px, 4),
        "hole_px": [round(hole.at_px[0], 2), round(hole.at_px[1], 2)] if found.hole_found else None,
        "phone_moved_px": None if found.steady is None else round(found.steady.most_px, 3),
        "rate_hz": round(found.facts.nominal_rate_hz, 3),
        "gate": None
        if gate is None
        else {"kind": gate.kind}
        | {key: {"value": getattr(gate, key).value, "u95": getattr(gate, key).u95} for key in figures},
        "start_line_u95_deg": None
        if found.start_line_u95_deg is None
        else round(found.start_line_u95_deg, 4),
        "change": None
        if found.change is None
        else {"words": found.change.words, "start_line_u95_deg": round(found.change.u95_deg, 4)},
    }
