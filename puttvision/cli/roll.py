"""``puttvision roll``: read the green from a few rolled balls, before the drill."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from puttvision.cli.clip_options import CaptureRate, Hole, NoGate, SheetCorners, parse_options
from puttvision.cli.lens_choice import LensName, with_lens
from puttvision.files import check_place, write_json
from puttvision.physics import feet
from puttvision.putts import Figure

if TYPE_CHECKING:
    from puttvision.putt.green_reading import GreenReading

ROLL_FILE = "roll.json"
FORMAT = "puttvision-roll/1"
_FIGURES = (
    "distance_m", "plays_ft", "stimp_ft", "fall_along_pct", "fall_right_pct", "break_cm", "aim_cm", "round_m",
)  # fmt: skip
_LITTLE_KNOWN_FT = 1.5
"""Level speed is not given in words where its interval is wider than this: it would say nothing."""


def roll(
    clip: Annotated[Path, typer.Argument(help="A clip of balls rolled along the line.", show_default=False)],
    past: Annotated[
        float,
        typer.Option(metavar="CM", min=5, max=200, help="Pace: how far past the hole a missed putt rolls."),
    ] = 30.0,
    out: Annotated[Path, typer.Option(help="Folder for roll.json; made where it is missing.")] = Path(
        "roll-out"
    ),
    hole: Hole = None,
    no_gate: NoGate = False,
    sheet: SheetCorners = None,
    capture_rate: CaptureRate = None,
    lens: LensName = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print roll.json instead of words.")] = False,
) -> None:
    """Read the green before the drill: speed, fall, break, and whether the line is straight enough.

    The CLIP shows three or more balls rolled along the line towards the hole, by hand or putter, each
    from rest, and, better, three back: only both ways tell how much of the pace is fall.
    """
    from puttvision.cli.progress import clip_progress
    from puttvision.putt.green_reading import read_green
    from puttvision.putt.measure import follow_clip

    options = with_lens(parse_options(hole, None, no_gate, capture_rate, sheet), clip, lens)
    check_place(out)
    with clip_progress(clip.name, quiet=as_json) as told:
        followed = follow_clip(clip, options, told)
    reading = read_green(
        followed.rolls, followed.site, followed.readout, past / 100,
        u_ball_px=followed.u_ball_px, no_gate=no_gate,
    )  # fmt: skip
    data = to_json(reading, clip.name, followed.warnings)
    write_json(out / ROLL_FILE, data)
    if as_json:
        typer.echo(json.dumps(data, indent=1, ensure_ascii=False))
        return
    for line in in_words(reading):
        typer.echo(line)
    for text in followed.warnings:
        typer.echo(f"note: {text}")
    typer.echo(f"written: {out / ROLL_FILE}")


def to_json(reading: GreenReading, file: str, warnings: tuple[str, ...] = ()) -> dict[str, Any]:
    """The JSON object of a reading; figures as in putts.json."""
    figures: dict[str, Figure] = {key: getattr(reading, key) for key in _FIGURES}
    return {
        "format": FORMAT,
        "clip": file,
        "rolls": {
            "towards": reading.n_towards, "back": reading.n_back, "other": reading.n_other,
            "left_out": reading.n_left_out,
        },
        "past_m": reading.past_m,
        **{key: {"value": figure.value, "u95": figure.u95} for key, figure in figures.items()},
        "two_way_ft": reading.two_way_ft,
        "straight": reading.straight,
        "warnings": list(warnings),
    }  # fmt: skip


def in_words(reading: GreenReading) -> list[str]:
    """What a coach reads, a sentence a line, the verdict first."""
    away = reading.distance_m.value or 0.0
    out = [_verdict(reading)]
    out.append(f"break at the hole, {feet(away):.1f} ft ({away:.2f} m) off, "
               f"{100 * reading.past_m:.0f} cm past it: {_to_side(reading.break_cm, 'cm')}")  # fmt: skip
    speed = f"green speed: plays {_pm(reading.plays_ft)} ft towards the hole (Stimpmeter)"
    level = reading.stimp_ft
    if level.value is not None and (level.u95 or 0) < _LITTLE_KNOWN_FT:
        along = reading.fall_along_pct
        way = "downhill" if (along.value or 0) > 0 else "uphill"
        out.append(f"{speed}, {_pm(level)} ft laid level")
        out.append(
            f"fall: {abs(along.value or 0):.1f} ± {along.u95 or 0:.1f} % {way}, "
            f"{_to_side(reading.fall_right_pct, '%')}"
        )
    else:
        out.append(speed)
        out.append(
            f"fall: {_to_side(reading.fall_right_pct, '%')}; up or down the line cannot be told from balls "
            "that all roll one way: roll three back as well"
        )
    if reading.two_way_ft is not None:
        both = f"{reading.two_way_ft:.1f} ft"
        out.append(f"check: level speed from up and down rolls apart, 2 Su Sd / (Su + Sd): {both}")
    out.append(_counts(reading))
    return out


def _verdict(reading: GreenReading) -> str:
    if reading.straight is True:
        return "straight enough for a gate drill"
    aim = reading.aim_cm
    words = "not straight enough for a gate drill" if reading.straight is False else (
        "straight enough for a gate drill or not: too close to call; roll more balls"
    )  # fmt: skip
    if reading.straight is False and aim.value is not None:
        side = "right" if aim.value > 0 else "left"
        words += f": aim {abs(aim.value):.0f} cm {side} of the hole's middle"
        if reading.round_m.value is not None:
            way = "right" if reading.round_m.value > 0 else "left"
            words += f", or go {abs(reading.round_m.value):.1f} m round the hole to the {way}"
    return words


def _counts(reading: GreenReading) -> str:
    from puttvision.putt.green_reading import WISHED_ROLLS

    words = f"balls: {reading.n_towards} towards the hole, {reading.n_back} back"
    if reading.n_other:
        words += f", {reading.n_other} another way"
    if reading.n_left_out:
        words += f"; {reading.n_left_out} left out that ran unlike the others"
    if reading.n_towards < WISHED_ROLLS:
        words += f"; roll at least {WISHED_ROLLS} towards the hole to be surer"
    return words


def _pm(figure: Figure) -> str:
    return "–" if figure.value is None else f"{figure.value:.1f} ± {figure.u95 or 0:.1f}"


def _to_side(figure: Figure, unit: str) -> str:
    if figure.value is None:
        return "–"
    side = "right" if figure.value > 0 else "left"
    return f"{abs(figure.value):.1f} ± {figure.u95 or 0:.1f} {unit} to the {side}"
