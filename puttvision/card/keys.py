"""The keys of the score card and what each of them says. Names go to disk; letters are for the fingers."""

from __future__ import annotations

from typing import NamedTuple

OUTCOMES = {"made": "holed", "missed": "missed"}
"""Key to outcome of putts.json; so with the next three."""
GATES = {"through": "clear", "touched": "touched", "outside": "outside"}
SIDES = {"left": "left", "right": "right"}
LENGTHS = {"short": "short", "past": "long"}
LIPPED = "lipped"
ZONES = tuple("123456789")
"""How far away a ball stopped, where the rules look at that; `zones.py` says what each number means."""

UNDO = "undo"
CLOCK = "clock"
"""Starts the clock with the first stroke; afterwards pauses it and lets it go on."""

OPENED, CLOSED, SLEPT, TIME_UP = "opened", "closed", "slept", "time up"
"""What the card itself notes: opened, closed, the computer slept, the clock reached its limit."""

PUTT_KEYS = (*OUTCOMES, *GATES, *SIDES, *LENGTHS, LIPPED, *ZONES)
"""Keys that tell something of a putt; each of them can be undone."""
PLAYER_KEYS = (*PUTT_KEYS, UNDO, CLOCK)
NAMES = frozenset((*PLAYER_KEYS, OPENED, CLOSED, SLEPT, TIME_UP))

LETTERS = {
    "m": "made", "x": "missed",
    "g": "through", "t": "touched", "o": "outside",
    "l": "left", "r": "right", "s": "short", "p": "past", "i": LIPPED,
    "u": UNDO, " ": CLOCK,
} | {digit: digit for digit in ZONES}  # fmt: skip
"""What is typed, to the key's name; capitals count alike (telephones begin with one)."""

SAYS = {
    "made": "made", "missed": "missed",
    "through": "through the gate", "touched": "touched a tee, went through", "outside": "outside the gate",
    "left": "missed left", "right": "missed right", "short": "stayed short", "past": "ran past",
    LIPPED: "lipped out", UNDO: "undo, as often as you like", CLOCK: "clock: pause, go on",
}  # fmt: skip


class Press(NamedTuple):
    """One key as it stands on disk."""

    key: str
    at_s: float
    """Seconds since 1970, by the computer's clock; never below that of the key before."""
