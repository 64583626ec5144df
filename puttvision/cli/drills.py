"""``puttvision drills``: list the catalogue, show a drill, check a coach's own file, start a new one."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated

import typer

from puttvision.cli.drill_choice import choose, drill_options, read_drill
from puttvision.cli.score import Players, Putts, Seed, Strict, Target
from puttvision.drill import catalogue
from puttvision.drill.describe import describe
from puttvision.drill.drawing import as_svg, as_text
from puttvision.drill.rules import Rules
from puttvision.errors import DrillError
from puttvision.files import write_text

drills_app = typer.Typer(help="List, show, check and start drills.", no_args_is_help=False)


@drills_app.callback(invoke_without_command=True)
def list_drills(context: typer.Context) -> None:
    """List the drills there are. `puttvision drills show NAME` tells the rules of one."""
    if context.invoked_subcommand is not None:
        return
    from rich.console import Console
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("name", no_wrap=True)
    table.add_column("what it asks")
    table.add_column("options", no_wrap=True)
    for name in catalogue.names():
        rules = catalogue.load(name)
        table.add_row(name, rules.about, " ".join(f"--{option}" for option in sorted(rules.may_change)))
    Console(highlight=False).print(table)


@drills_app.command("show")
def show(
    drill: Annotated[str, typer.Argument(help="A drill's name, or your own FILE.toml.", show_default=False)],
    target: Target = None,
    putts: Putts = None,
    strict: Strict = False,
    seed: Seed = None,
    players: Players = None,
    svg: Annotated[
        Path | None, typer.Option(help="Also write the set-up drawing to this SVG file.", metavar="FILE")
    ] = None,
    source: Annotated[bool, typer.Option("--source", help="Print the drill file itself.")] = False,
) -> None:
    """Show a drill: its rules in words, what you need, and a drawing of the set-up from above."""
    rules = choose(drill, drill_options(target, putts, strict, seed, players))
    if source:
        typer.echo(_source(drill, rules), nl=False)
        return
    for line in _page(rules):
        typer.echo(line)
    if svg is not None:
        if svg.exists():
            raise DrillError(f"{svg} is there already: give another name, nothing was overwritten")
        write_text(svg, as_svg(rules))
        typer.echo(f"written: {svg}")


def _source(drill: str, rules: Rules) -> str:
    if drill == rules.name and drill in catalogue.names():
        return catalogue.text(drill)
    return Path(drill).read_text(encoding="utf-8")


def _page(rules: Rules) -> list[str]:
    lines = [f"{rules.title} ({rules.name})", "", rules.about, ""] if rules.about else [rules.title, ""]
    if rules.setup:
        lines += ["Set-up", f"  {rules.setup}"]
    if rules.equipment:
        lines.append(f"  You need: {', '.join(rules.equipment)}.")
    lines += ["", "Rules", *(f"  {line}" for line in describe(rules))]
    if rules.measures:
        lines.append("  The film (or your own measuring) has to give: " + ", ".join(_measures(rules)) + ".")
    if rules.may_change:
        lines.append("  Options: " + ", ".join(f"--{name}" for name in sorted(rules.may_change)) + ".")
    return [*lines, "", *(f"  {line}" for line in as_text(rules).splitlines())]


def _measures(rules: Rules) -> list[str]:
    words = {
        "run_out_m": "how far past the hole or short",
        "leave_m": "how far from the hole the ball stopped",
        "start_line_deg": "the start line",
        "hole_offset_mm": "the side it missed on",
    }
    return sorted(words[name] for name in rules.measures)


@drills_app.command("check")
def check(
    file: Annotated[Path, typer.Argument(help="Your drill file (TOML).", show_default=False)],
) -> None:
    """Check a drill file; the first fault is named with its key and the mend."""
    rules = read_drill(file)
    typer.echo(f"{file} is a good drill file.")
    for line in _page(rules):
        typer.echo(line)


@drills_app.command("new")
def new(
    file: Annotated[Path, typer.Argument(help="Where to write it, such as my-drill.toml.")],
    like: Annotated[str, typer.Option(metavar="NAME", help="The drill to start from.")] = "head-gate-streak",
) -> None:
    """Start a drill of your own from one of the catalogue; an existing file is never overwritten."""
    text = catalogue.text(like)
    name = file.stem.lower()
    if file.suffix != ".toml" or not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
        raise DrillError(f"{file}: a name such as my-drill.toml was due (letters, digits and hyphens)")
    if file.exists():
        raise DrillError(f"{file} is there already: give another name, nothing was overwritten")
    if name in catalogue.names():
        raise DrillError(f"{name} is a drill of the catalogue: give yours another name")
    head = (
        "# A drill file of your own. Change what you like, then:\n"
        f"#   puttvision drills check {file.name}\n"
        f"#   puttvision score putts.json --drill ./{file.name}\n"
        "# Every key is explained, with an example, by: puttvision drills keys\n\n"
    )
    write_text(file, head + re.sub(r'^name = ".*"$', f'name = "{name}"', text, count=1, flags=re.MULTILINE))
    typer.echo(f"written: {file} (like {like}); check it with: puttvision drills check {file}")


@drills_app.command("keys")
def keys() -> None:
    """Explain every key of a drill file, with an example each."""
    typer.echo(catalogue.keys_page(), nl=False)
