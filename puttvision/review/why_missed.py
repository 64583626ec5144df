"""Why putts missed, in words: putt by putt, and for the session as a whole. Pure functions of its putts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from puttvision.coaching.attempts import Attempt
from puttvision.coaching.causes import FEWEST, Explained, explain, why
from puttvision.coaching.long_run import long_run
from puttvision.coaching.words import AT_GATE, carried_off, named
from puttvision.drill.scorecard import Scorecard
from puttvision.drill.words import several
from puttvision.putts import Putt


@dataclass(frozen=True, slots=True)
class Why:
    """Causes of misses in words."""

    of_putt: dict[int, str]
    """By the number of each missed putt whose cause is told."""
    session: tuple[str, ...]
    """The session as a whole, a sentence each; what cannot be told is said."""


def why_missed(putts: Sequence[Putt], card: Scorecard | None, stimp_ft: float | None) -> Why:
    """Split the misses of one session by start line, pace and read.

    ``card`` gives distance and side where a putt was not measured; ``stimp_ft``: None where not measured.
    """
    played = attempts_of(putts, card, stimp_ft)
    missed = [one for one in played if one.holed is False]
    if not missed:
        return Why({}, ("No putt that was seen to its end missed.",) if played else ())
    found = explain(played)
    of_putt = {one.number: why(one) for one in found.parts if not one.holed}
    of_putt |= {number: "pace: stopped short of the hole" for _, number in found.short}
    of_putt |= dict.fromkeys((number for _, number in found.at_gate), AT_GATE)
    return Why(dict(sorted(of_putt.items())), tuple(_session(played, found, len(missed) - len(of_putt))))


def attempts_of(putts: Sequence[Putt], card: Scorecard | None, stimp_ft: float | None) -> list[Attempt]:
    """The putts of one session as `coaching` takes them."""
    lines = {line.putt: line.step.setting for line in card.lines} if card else {}
    out = []
    for putt in putts:
        setting = lines.get(putt.number)
        out.append(
            Attempt(
                session=0,
                day=date.min,
                putt=putt,
                asked_m=setting.distance.metres if setting and setting.distance else None,
                side=setting.side if setting else "",
                stimp_ft=stimp_ft,
            )
        )
    return out


def _session(played: Sequence[Attempt], found: Explained, untold: int) -> list[str]:
    out = []
    told = sum(found.causes.values())
    if told:
        counts = ", ".join(f"{number} by {named(cause)}" for cause, number in found.causes.items() if number)
        out.append(f"{told} {'miss' if told == 1 else 'misses'} explained: {counts}.")
    if untold:
        out.append(
            f"Too little to tell why {several(untold, 'putt')} missed: it takes {FEWEST} putts from one spot "
            "with start line, pace and where they passed the hole."
        )
    if found.shares:
        text = carried_off(found.shares)
        out.append(f"{text[:1].upper()}{text[1:]}.")
    elif not untold:
        out.append(
            f"How much start line, pace and read each cost is told once {FEWEST} putts from one spot have "
            "passed the hole."
        )
    usual = long_run(played)
    return out + ([f"With this stroke, {usual.says}; a guide, not a count."] if usual else [])
