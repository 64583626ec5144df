"""Running totals of a drill, summed from the steps of its putts; and one line a counted putt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from puttvision.drill.engine import Step


class Line(NamedTuple):
    """One counted putt and the player's standing after it."""

    putt: int
    """The putt's number in putts.json."""
    step: Step
    made: int
    """Made in the stage's present count."""
    tried: int
    streak: int
    points: int
    """The total, hundredths."""
    doubt: str = ""


@dataclass(slots=True)
class Totals:
    """One player's running totals."""

    counted: int = 0
    made: int = 0
    """Made in the stage's present count; ``tried`` likewise."""
    tried: int = 0
    made_in_all: int = 0
    points: int = 0
    restarts: int = 0
    streak: int = 0
    best_streak: int = 0
    rounds_over: int = 0
    rounds_won: int = 0

    def add(self, result: Step) -> None:
        """Take in a counted step."""
        self.counted += 1
        if result.kind == "made":
            self.made_in_all += 1
            self.streak += 1
            self.best_streak = max(self.best_streak, self.streak)
        else:
            self.streak = 0
        if result.kind != "played on":
            self.tried += 1
            self.made += result.good
        if result.fault == "count one back":
            self.made = max(self.made - 1, 0)
        if result.cleared:
            self.made = self.tried = 0
        self.points += result.points_change
        self.restarts += result.restarted
        self.rounds_over += bool(result.round_over)
        self.rounds_won += result.round_over == "won"


def points_text(hundredths: int) -> str:
    """Points as a person writes them: ``13.5``, ``-1``."""
    return f"{hundredths / 100:g}"


def points_number(hundredths: int) -> int | float:
    """Points as JSON shows them: 1, 0.5."""
    return hundredths // 100 if hundredths % 100 == 0 else hundredths / 100
