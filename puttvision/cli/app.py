"""The command line: one file a command, wired up here.

Exit codes: 0 done; 1 the input is not fit (one line on standard error says why); 2 wrong usage.
"""

from __future__ import annotations

import io
import sys

import typer

from puttvision.cli.card import card
from puttvision.cli.check import check
from puttvision.cli.clips import clips
from puttvision.cli.demo import demo
from puttvision.cli.drills import drills_app
from puttvision.cli.groups import groups_app
from puttvision.cli.inout import backup, export, import_, restore
from puttvision.cli.ladder import ladder
from puttvision.cli.lens import lens_app
from puttvision.cli.measure import measure
from puttvision.cli.next_drills import next_
from puttvision.cli.notes import notes_app
from puttvision.cli.odds import odds
from puttvision.cli.places import places_app
from puttvision.cli.player_progress import progress
from puttvision.cli.players import forget, players_app
from puttvision.cli.report import report
from puttvision.cli.review import review
from puttvision.cli.roll import roll
from puttvision.cli.score import score
from puttvision.cli.sessions import sessions_app
from puttvision.cli.sheet import sheet
from puttvision.cli.target import target
from puttvision.errors import PuttvisionError

app = typer.Typer(
    name="puttvision",
    help="Measure putts from a phone clip and score putting drills.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode="rich",
    pretty_exceptions_enable=False,
)


@app.callback()
def _all_commands() -> None:
    """Measure putts from a phone clip and score putting drills."""


app.command("backup")(backup)
app.command("card")(card)
app.command("check")(check)
app.command("clips")(clips)
app.command("demo")(demo)
app.command("export")(export)
app.command("forget")(forget)
app.add_typer(groups_app, name="groups")
app.command("import")(import_)
app.command("ladder")(ladder)
app.add_typer(lens_app, name="lens")
app.command("measure")(measure)
app.add_typer(notes_app, name="notes")
app.command("next")(next_)
app.command("odds")(odds)
app.command("progress")(progress)
app.command("report")(report)
app.command("review")(review)
app.command("roll")(roll)
app.command("score")(score)
app.add_typer(drills_app, name="drills")
app.add_typer(places_app, name="places")
app.add_typer(players_app, name="players")
app.command("restore")(restore)
app.add_typer(sessions_app, name="sessions")
app.command("sheet")(sheet)
app.command("target")(target)


def main() -> None:
    """Run the command line; a PuttvisionError becomes one line and exit code 1."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal that lacks a letter shows ?
    try:
        app()
    except PuttvisionError as err:
        typer.echo(f"puttvision: {err}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        sys.exit(1)
    except KeyboardInterrupt:
        typer.echo("puttvision: stopped; nothing half-written is left", err=True)
        sys.exit(130)
