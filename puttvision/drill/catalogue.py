"""The drills that ship with the program: one TOML file each in the folder beside this module."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from puttvision.drill.load import parse_rules
from puttvision.drill.reader import nearest
from puttvision.drill.rules import Rules
from puttvision.errors import DrillError

FIXED = ("head-gate-streak", "ball-gate-points", "nine-six-three")
"""Names and rules that stay as they are, whatever else the catalogue becomes."""


@cache
def names() -> tuple[str, ...]:
    """Names of the drills in the catalogue: the fixed three first, then by the alphabet."""
    folder = files("puttvision.drill") / "catalogue"
    found = sorted(entry.name[:-5] for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return (*FIXED, *(name for name in found if name not in FIXED))


@cache
def text(name: str) -> str:
    """The drill file of a catalogue drill, as it ships; DrillError where there is none of that name."""
    if name not in names():
        near = nearest(name, names())
        raise DrillError(f'no drill is called "{name}"{near}; `puttvision drills` lists them all')
    return (files("puttvision.drill") / "catalogue" / f"{name}.toml").read_text(encoding="utf-8")


@cache
def load(name: str) -> Rules:
    """The rules of a catalogue drill."""
    return parse_rules(text(name), f"{name}.toml")


def keys_page() -> str:
    """The page that explains every key of a drill file (Markdown)."""
    return (files("puttvision.drill") / "KEYS.md").read_text(encoding="utf-8")
