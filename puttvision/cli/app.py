"""The command line: one file a command, wired up here and loaded when asked for.

Exit codes: 0 done; 1 the input is not fit (one line on standard error says why); 2 wrong usage.
"""

from __future__ import annotations

import gc
import io
import sys
from importlib import import_module

import typer
from typer.core import TyperGroup

from puttvision.errors import PuttvisionError

COMMANDS = {
    "backup": "inout:backup",
    "card": "card:card",
    "check": "check:check",
    "clips": "clips:clips",
    "demo": "demo:demo",
    "drills": "drills:drills_app",
    "export": "inout:export",
    "forget": "players:forget",
    "groups": "groups:groups_app",
    "import": "inout:import_",
    "ladder": "ladder:ladder",
    "lens": "lens:lens_app",
    "measure": "measure:measure",
    "next": "next_drills:next_",
    "notes": "notes:notes_app",
    "odds": "odds:odds",
    "places": "places:places_app",
    "players": "players:players_app",
    "progress": "player_progress:progress",
    "report": "report:report",
    "restore": "inout:restore",
    "review": "review:review",
    "roll": "roll:roll",
    "score": "score:score",
    "sessions": "sessions:sessions_app",
    "sheet": "sheet:sheet",
    "target": "target:target",
}
"""Each command's module in ``puttvision.cli`` and its function or group there."""


class Commands(TyperGroup):
    """Loads the module of the command that is asked for; of all only for the list of them."""

    def list_commands(self, ctx: object) -> list[str]:  # noqa: ARG002
        """Names in the order of `COMMANDS`."""
        return list(COMMANDS)

    def get_command(self, ctx: object, cmd_name: str):  # type: ignore[no-untyped-def]  # noqa: ARG002
        """The command of that name, or None; typer's class of it is not public."""
        if cmd_name in COMMANDS and cmd_name not in self.commands:
            module, _, name = COMMANDS[cmd_name].partition(":")
            found = getattr(import_module(f"puttvision.cli.{module}"), name)
            alone = typer.Typer(rich_markup_mode="rich", add_completion=False)
            if isinstance(found, typer.Typer):
                alone.add_typer(found, name=cmd_name)
            else:
                alone.command(cmd_name)(found)
            self.commands[cmd_name] = typer.main.get_group(alone).commands[cmd_name]
        return self.commands.get(cmd_name)

    def resolve_command(self, ctx, args):  # type: ignore[no-untyped-def]
        """As typer does; a name that is none makes all known, so that it can say which is near."""
        if args and args[0] not in COMMANDS:
            for name in COMMANDS:
                self.get_command(ctx, name)
        return super().resolve_command(ctx, args)


app = typer.Typer(
    name="puttvision",
    cls=Commands,
    help="Measure putts from a phone clip and score putting drills.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode="rich",
    pretty_exceptions_enable=False,
)


@app.callback()
def _all_commands() -> None:
    """Measure putts from a phone clip and score putting drills."""


def main() -> None:
    """Run the command line; a PuttvisionError becomes one line and exit code 1."""
    gc.set_threshold(20_000)  # what loading makes stays: looking through it again and again is a tenth of it
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
