"""The table of putts that a coach reads at the end of `measure`."""

from __future__ import annotations

from rich.console import Console
from rich.table import Table

from puttvision.physics import feet
from puttvision.putts import Figure, Putt, PuttSheet

NOT_SEEN = "–"
_SAME_DISTANCE_M = 0.1


def print_putts(sheet: PuttSheet, console: Console | None = None) -> None:
    """Print what was measured: a line a putt, what the green and the gate are, what needs a look."""
    console = console or Console(highlight=False)
    if sheet.putts:
        console.print(putts_table(sheet))
    for line in notes(sheet):
        console.print(line)


def putts_table(sheet: PuttSheet) -> Table:
    """One line a putt, within 80 columns; a figure stands with the half-width of its 95 % interval."""
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 1, 0, 0))
    several = _several_distances(sheet)
    table.add_column("putt", justify="right")
    table.add_column("at", justify="right")
    if several:
        table.add_column("ft", justify="right")
    table.add_column("start line °", no_wrap=True)
    table.add_column("pace m/s", no_wrap=True)
    if sheet.gate:
        table.add_column("gate mm", no_wrap=True)
    table.add_column("outcome cm", no_wrap=True)
    table.add_column("past cm", justify="right", no_wrap=True)
    for putt in sheet.putts:
        cells = [str(putt.number), _clock(putt.start_s)]
        if several:
            cells.append(_feet(putt.hole_distance_m))
        cells += [_line(putt.start_direction_to_hole_deg), _close(putt.launch_speed_m_s)]
        if sheet.gate:
            cells.append(_gate(putt))
        cells += [_outcome(putt), _run_out(putt)]
        table.add_row(*cells)
    return table


def _several_distances(sheet: PuttSheet) -> bool:
    distances = [d.value for putt in sheet.putts if (d := putt.hole_distance_m).value is not None]
    return bool(distances) and max(distances) - min(distances) > _SAME_DISTANCE_M


def notes(sheet: PuttSheet) -> list[str]:
    """Sentences under the table."""
    out = []
    distance = next((d.value for putt in sheet.putts if (d := putt.hole_distance_m).value is not None), None)
    if distance is not None and not _several_distances(sheet):
        out.append(f"all from {feet(distance):.1f} ft; past: how far beyond the hole it ended or would have")
    elif distance is not None:
        out.append("past: how far beyond the hole it ended or would have")
    if sheet.gate:
        gate = sheet.gate
        square = gate.square_deg.value or 0.0
        side = "right" if square > 0 else "left"
        out.append(
            f"ball gate: {_pm(gate.width_mm, 0)} mm wide, {_pm(gate.distance_m, 2)} m ahead, turned "
            f"{abs(square):.1f} ± {gate.square_deg.u95 or 0:.1f}° to the {side} of the line"
        )
    if sheet.green and sheet.green.stimp_ft:
        out.append(f"green speed: {_pm(sheet.green.stimp_ft, 1)} ft (Stimpmeter)")
    for putt in sheet.putts:
        out += [f"look at putt {putt.number}: {reason}" for reason in putt.review]
    out += [f"note: {text}" for text in sheet.warnings]
    return out


def _pm(figure: Figure, digits: int) -> str:
    if figure.value is None:
        return NOT_SEEN
    return f"{figure.value:.{digits}f} ± {figure.u95 or 0:.{digits}f}"


def _clock(figure: Figure) -> str:
    if figure.value is None:
        return NOT_SEEN
    minutes, seconds = divmod(figure.value, 60)
    return f"{int(minutes)}:{seconds:04.1f}"


def _feet(figure: Figure) -> str:
    return NOT_SEEN if figure.value is None else f"{feet(figure.value):.1f}"


def _line(figure: Figure) -> str:
    if figure.value is None:
        return NOT_SEEN
    side = "right" if figure.value > 0 else "left"
    return f"{abs(figure.value):.2f}±{figure.u95 or 0:.2f} {side}"


def _close(figure: Figure) -> str:
    return NOT_SEEN if figure.value is None else f"{figure.value:.2f}±{figure.u95 or 0:.2f}"


def _gate(putt: Putt) -> str:
    offset = putt.gate_offset_mm.value
    if putt.gate_result == "outside" or offset is None:
        return putt.gate_result
    side = "right" if offset > 0 else "left"
    return f"{putt.gate_result} {abs(offset):.0f} {side}"


def _outcome(putt: Putt) -> str:
    if putt.outcome == "missed" and putt.lipped:
        return "lipped out"
    if putt.outcome == "missed" and putt.hole_offset_mm.value is not None:
        offset = putt.hole_offset_mm.value
        return f"missed {abs(offset) / 10:.0f} {'right' if offset > 0 else 'left'}"
    return putt.outcome


def _run_out(putt: Putt) -> str:
    figure = putt.run_out_m
    if figure.value is None:
        return NOT_SEEN
    cm = round(figure.value * 100)
    return f"{-cm} short" if cm < 0 else f"{cm}"
