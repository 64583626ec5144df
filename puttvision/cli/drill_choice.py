"""Choosing a drill on the command line: a name of the catalogue or a coach's own file, with options."""

from __future__ import annotations

from pathlib import Path

from puttvision.drill import catalogue
from puttvision.drill.load import parse_rules
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options, Rules
from puttvision.errors import DrillError


def choose(drill: str, options: Options | None = None) -> Rules:
    """The rules of a catalogue drill, or of a TOML file, with ``options`` in force.

    Whatever ends in ``.toml`` or has a folder in it is a file. Raises DrillError.
    """
    is_file = drill.endswith(".toml") or len(Path(drill).parts) > 1
    rules = read_drill(Path(drill)) if is_file else catalogue.load(drill)
    return with_options(rules, options or Options())


def read_drill(path: Path) -> Rules:
    """The rules of a drill file; DrillError where it cannot be read or breaks a rule of drill files."""
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as err:
        raise DrillError(f"cannot read {path}: {err.strerror or err}") from err
    except UnicodeDecodeError as err:
        raise DrillError(f"{path} is not a text file in UTF-8: {err.reason} at byte {err.start}") from err
    return parse_rules(text, str(path))


def drill_options(
    target: int | None, putts: int | None, strict: bool, seed: int | None, players: str | None
) -> Options:
    """The options of a drill from the words of the command line; ``players``: two names with a comma."""
    names = None
    if players is not None:
        parts = [name.strip() for name in players.split(",")]
        if len(parts) != 2:
            raise DrillError(f"--players: two names with a comma were due, such as Ines,Oluf, got {players}")
        names = (parts[0], parts[1])
    return Options(target=target, putts=putts, strict=strict, seed=seed, players=names)
