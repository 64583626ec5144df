"""The card's clock: it runs while the card is open and not paused. Seconds."""

from __future__ import annotations

from typing import NamedTuple

STROKE_TO_KEY_S = 3.0
"""From the stroke to the key that tells its end: the ball rolls, the scorer taps. Common practice, no
source; so a putt's start is known to about this much, too."""


class Clock(NamedTuple):
    """Played time: seconds the card was open and running since it was first opened."""

    banked_s: float = 0.0
    """Up to ``since_s``; all of it where the clock stands."""
    since_s: float | None = None
    """Instant (seconds since 1970) from which it has been running; None: it stands."""

    @property
    def runs(self) -> bool:
        return self.since_s is not None

    def played_s(self, at_s: float) -> float:
        """Played time at an instant; an instant before the last change counts as that change."""
        return self.banked_s + (max(at_s - self.since_s, 0.0) if self.since_s is not None else 0.0)

    def stop(self, at_s: float) -> Clock:
        """The clock, standing from ``at_s`` on."""
        return Clock(self.played_s(at_s))

    def go_on(self, at_s: float) -> Clock:
        """The clock, running from ``at_s`` on where it stood."""
        return self if self.runs else Clock(self.banked_s, at_s)


def time_text(seconds: float) -> str:
    """``12:41``, ``1:02:03``."""
    whole = int(seconds)
    hours, minutes = whole // 3600, whole // 60 % 60
    return f"{hours}:{minutes:02}:{whole % 60:02}" if hours else f"{minutes}:{whole % 60:02}"


STANDING = Clock()
"""Before the card is opened."""
