"""How the drill stands before and after each putt, in one line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from puttvision.card.headline import headline
from puttvision.drill import play, words
from puttvision.drill.rules import Rules
from puttvision.drill.scorecard import Scorecard, score
from puttvision.putts import Putt


@dataclass(frozen=True, slots=True)
class Standing:
    """One putt's place in the drill."""

    before: str
    after: str
    happened: str
    """What it did in the drill; empty without a drill."""


def standings(rules: Rules | None, putts: Sequence[Putt]) -> dict[int, Standing]:
    """By number of putt. Without a drill the holed ones are counted."""
    out: dict[int, Standing] = {}
    before = _line(rules, putts[:0])
    for k, putt in enumerate(putts, start=1):
        after = _line(rules, putts[:k])
        out[putt.number] = Standing(before, after, _happened(rules, putts[:k]))
        before = after
    return out


def _line(rules: Rules | None, putts: Sequence[Putt]) -> str:
    if rules is None:
        seen = [putt for putt in putts if putt.outcome != "unseen"]
        holed = sum(putt.outcome == "holed" for putt in seen)
        return f"{holed} holed of {len(seen)}"
    card = score(rules, putts)
    if card.state != "running":
        return words_of(card)
    figure, caption = headline(card)
    stages = len(rules.stages)
    where = f"Stage {play.to_play(card.position).stage + 1} of {stages}: " if stages > 1 else ""
    return f"{where}{figure} {caption}"


def words_of(card: Scorecard) -> str:
    """How it ended, with a capital."""
    text = card.what_next
    return text[:1].upper() + text[1:]


def _happened(rules: Rules | None, putts: Sequence[Putt]) -> str:
    if rules is None:
        return ""
    card = score(rules, putts)
    number = putts[-1].number
    for aside, why in card.set_aside:
        if aside == number:
            return f"set aside: {why}"
    if card.lines and card.lines[-1].putt == number:
        return words.what_happened(rules, card.lines[-1])
    return "after the drill's end"
