"""The rules of a drill as data: what a drill file says, checked and frozen.

Distances are metres, times seconds, angles degrees, points hundredths of a point (whole numbers,
so that sums are exact). `load.py` makes these from TOML, `options.py` puts a player's options in
force, `engine.py` plays them. `KEYS.md` explains every key of a drill file.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import partial
from typing import Literal, NamedTuple, get_args

Consequence = Literal["count back", "count one back", "stage back", "start again", "end", "nothing"]
Follows = Literal["count", "putts"]
Word = Literal[
    "any putt", "holed", "missed", "lipped", "through the gate", "clear through the gate",
    "touched the gate", "outside the gate", "short", "past", "left", "right",
]  # fmt: skip
TurnOf = Literal["grip", "ball", "side", "from", "slope", "distance_ft", "distance_m", "gate_mm"]

CONSEQUENCES: tuple[str, ...] = get_args(Consequence)
WORDS: tuple[str, ...] = get_args(Word)
TURNS_OF: tuple[str, ...] = get_args(TurnOf)
GATE_WORDS = frozenset(word for word in WORDS if "gate" in word)
BOTH_HANDS = "both hands"


class Distance(NamedTuple):
    """A distance as the coach wrote it: ``value`` in ``unit``."""

    value: float
    unit: Literal["ft", "m"]

    @property
    def metres(self) -> float:
        return self.value * 0.3048 if self.unit == "ft" else self.value

    def __str__(self) -> str:
        return f"{self.value:g} {self.unit}"


class Setting(NamedTuple):
    """How one putt is to be played; a text or number is empty or None where the drill leaves it open."""

    distance: Distance | None
    grip: str = BOTH_HANDS
    ball: str = ""
    side: str = ""
    from_: str = ""
    slope: str = ""
    gate_mm: float | None = None


OPEN = Setting(None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What has to be true of a putt: every word and every window."""

    words: tuple[Word, ...] = ()
    run_out_m: tuple[float, float] | None = None
    leave_m: tuple[float, float] | None = None
    """Distance from the hole's centre at which the ball came to rest; 0 where it was holed."""
    start_line_deg: tuple[float, float] | None = None
    """Size of the start-line error: to the ball gate's centre where one was measured, else to the hole."""
    putts_taken: tuple[int, int] | None = None
    """Putts the ball took, in a stage that is played out."""

    @property
    def measures(self) -> frozenset[str]:
        """The continuous measures of a putt that this condition reads."""
        read = set()
        if self.run_out_m or "short" in self.words or "past" in self.words:
            read.add("run_out_m")
        if self.leave_m:
            read.add("leave_m")
        if self.start_line_deg:
            read.add("start_line_deg")
        if "left" in self.words or "right" in self.words:
            read.add("hole_offset_mm")
        return frozenset(read)


HOLED = (Condition(words=("holed",)),)
"""As most drills judge a putt."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Award:
    """Points for a putt that meets the condition; ``points`` in hundredths."""

    when: Condition
    points: int
    points_strict: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What happens at once when a putt meets the condition."""

    when: Condition
    then: Consequence
    forfeit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """Something that alternates: each of ``each`` for so many putts, then the next, and round again."""

    of: TurnOf
    each: tuple[str | float, ...]
    putts: tuple[int, ...]
    follows: Follows
    random: bool = False
    sequence: tuple[str | float, ...] = ()
    """One whole round, putt by putt (in random order: as the seed drew it)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage: how it is set up, when it is passed, what a fault does."""

    title: str = ""
    usual: Setting = OPEN
    """How its putts are played where no turn says otherwise."""
    make: int | None = None
    misses_allowed: int | None = None
    """None: any number."""
    putts: int | None = None
    made_needed: int | None = None
    points_to: int | None = None
    points_needed: int | None = None
    on_fault: Consequence | None = None
    forfeit: str = ""
    made_when: tuple[Condition, ...] = HOLED
    """A try is made where any one of these holds."""
    made_when_strict: tuple[Condition, ...] | None = None
    awards: tuple[Award, ...] = ()
    faults: tuple[Fault, ...] = ()
    turns: tuple[Turn, ...] = ()
    play_out: bool = False
    holed_within: int = 1
    pick_up_after: int = 5
    may_change: frozenset[str] = frozenset()
    """Which of make, putts and points_to a player may change by an option."""

    tracks_made: bool = field(init=False, default=False)
    """The future depends on how many were made in the present count."""
    tracks_missed: bool = field(init=False, default=False)
    tracks_played: bool = field(init=False, default=False)
    tracks_points: bool = field(init=False, default=False)
    turn_cycle: int = field(init=False, default=1)
    """Length after which the turns that follow putts repeat, where nothing else counts the putts; else 1."""

    def __post_init__(self) -> None:
        put = partial(object.__setattr__, self)
        follows_count = any(turn.follows == "count" for turn in self.turns)
        put("tracks_made", bool(self.make is not None or self.made_needed or follows_count))
        put("tracks_missed", self.make is not None and self.misses_allowed is not None)
        put("tracks_played", self.putts is not None)
        put("tracks_points", self.points_to is not None or self.points_needed is not None)
        if not self.tracks_played and not self.tracks_missed:
            lengths = [len(turn.sequence) for turn in self.turns if turn.follows == "putts" and turn.sequence]
            put("turn_cycle", math.lcm(*lengths) if lengths else 1)

    @property
    def distance(self) -> Distance | None:
        """The distance where no turn says otherwise."""
        return self.usual.distance

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """Every condition the stage judges a putt by."""
        return (
            *self.made_when,
            *(award.when for award in self.awards),
            *(fault.when for fault in self.faults),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """``beat_s``: a mark to beat. ``limit_s``: the drill is over then, as ``at_limit`` says."""

    beat_s: float | None = None
    limit_s: float | None = None
    at_limit: Literal["finished", "failed"] = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """The drill played several times over."""

    rounds: int
    result: Literal["best round", "all rounds", "rounds won"]
    win: int = 1
    """Rounds to be won where the result is ``rounds won``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoPlayers:
    """Two players putt in turn; `match.py` says how ``each hole`` and ``whole drill`` are compared."""

    names: tuple[str, str]
    compare: Literal["each hole", "whole drill"]
    level: Literal["halved", "go on"] = "halved"


@dataclass(frozen=True, slots=True, kw_only=True)
class GateSetup:
    """Tees to set: a ball gate ahead on the start line, or a head gate for the putter."""

    kind: Literal["ball", "head"]
    ahead_m: float | None = None
    width_mm: float | None = None
    width: str = ""
    """The width in words, where it depends on the player's own putter."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What a player may change for one go at a drill."""

    target: int | None = None
    putts: int | None = None
    strict: bool = False
    seed: int | None = None
    players: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """A whole drill."""

    name: str
    title: str
    about: str = ""
    setup: str = ""
    equipment: tuple[str, ...] = ()
    stages: tuple[Stage, ...]
    gate: GateSetup | None = None
    clock: Clock = Clock()
    series: Series | None = None
    two_players: TwoPlayers | None = None
    attempts: int | None = None
    """How often the drill may be begun."""
    most_putts: int | None = None
    lowest_points: int | None = None
    stake: str = ""
    seed: int = 1
    options: Options = Options()
    """The options these rules were made with."""

    gives_points: bool = field(init=False, default=False)
    tracks_points: bool = field(init=False, default=False)
    """The future depends on the points so far."""
    tracks_made: bool = field(init=False, default=False)
    """One stage, and a fault sets it back: whether anything was made decides if that is a restart."""

    def __post_init__(self) -> None:
        gives = any(stage.awards for stage in self.stages)
        goes_back = any(stage.on_fault not in (None, "end", "nothing") for stage in self.stages) or any(
            fault.then not in ("end", "nothing") for stage in self.stages for fault in stage.faults
        )
        compared = self.two_players is not None and self.two_players.compare == "whole drill"
        best = self.series is not None and self.series.result == "best round"
        floor = self.lowest_points is not None
        object.__setattr__(self, "gives_points", gives)
        object.__setattr__(self, "tracks_points", gives and (goes_back or compared or best or floor))
        object.__setattr__(self, "tracks_made", goes_back and len(self.stages) == 1)

    @property
    def measures(self) -> frozenset[str]:
        """Continuous measures the rules read (``run_out_m``, ...); empty: outcome and gate are enough."""
        return frozenset().union(*(c.measures for stage in self.stages for c in stage.conditions))

    @property
    def uses_gate(self) -> bool:
        """Whether the gate result of a putt matters."""
        return any(GATE_WORDS.intersection(c.words) for stage in self.stages for c in stage.conditions)

    @property
    def may_change(self) -> frozenset[str]:
        """Names of the options this drill takes: target, putts, strict, seed, players."""
        names = set()
        for stage in self.stages:
            names |= {"putts" if key == "putts" else "target" for key in stage.may_change}
            if stage.made_when_strict is not None or any(a.points_strict is not None for a in stage.awards):
                names.add("strict")
            if any(turn.random for turn in stage.turns):
                names.add("seed")
        if self.two_players:
            names.add("players")
        return frozenset(names)
