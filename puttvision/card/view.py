"""What the page has to show at one instant, in words: the card seen through a scorer's eyes. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

from puttvision.card import keys
from puttvision.card.card import Card
from puttvision.card.clock import time_text
from puttvision.card.hand import EMPTY, Asked, asked, measures, play_side, stage_of, uses_gate, zones_asked
from puttvision.card.headline import headline, may_finish, place_changes
from puttvision.drill import play, words
from puttvision.drill.describe import describe
from puttvision.drill.rules import Rules
from puttvision.drill.scorecard import Scorecard
from puttvision.drill.tally import Line

_QUESTIONS: dict[Asked, str] = {
    "outcome": "made or missed?",
    "gate": "and the gate?",
    "length": "short or past the hole?",
    "run-out": "how far past the hole?",
    "leave": "how far from the hole?",
    "side": "on which side?",
}
_SHORT = {
    "made": "made", "missed": "missed", "through": "through", "touched": "touched, through",
    "outside": "outside", "left": "left", "right": "right", "short": "short", "past": "past",
    keys.LIPPED: "lipped out",
}  # fmt: skip
_LETTER = {name: letter for letter, name in keys.LETTERS.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """The words and figures of one page; empty: nothing to show."""

    title: str
    clock: str
    clock_stands: bool = False
    begins: tuple[str, ...] = ()
    """Before the first key: what the drill asks."""
    stake: str = ""
    """Before the first key, and where it bites."""
    figure: str = ""
    caption: str = ""
    alone: bool = False
    """The next putt may finish the drill: the figure stands alone."""
    happened: str = ""
    bites: bool = False
    """The last putt was a fault: ``happened`` and the forfeit are to be seen from afar."""
    forfeit: str = ""
    question: str = ""
    """Of a putt half told."""
    next: str = ""
    changes: bool = False
    """The next putt is another player's, from another place, or with another grip or ball."""
    ended: bool = False
    finished: bool = False
    note: str = ""
    legend: tuple[tuple[str, str], ...] = ()
    """Letters, and what they say."""


def look(card: Card, scored: Scorecard, at_s: float, note: str = "") -> View:
    """The view at an instant; ``note``: something to tell about the last key."""
    rules = card.rules
    over = scored.state != "running"
    begun = bool(card.told)
    figure, caption = headline(scored)
    question = "" if card.hand.entry == EMPTY else _question(card)
    alone = not over and begun and may_finish(scored)
    line = scored.lines[-1] if scored.lines and card.hand.entry == EMPTY else None
    bites = line is not None and (line.step.fault not in (None, "nothing") or bool(line.step.forfeit))
    happened = _happened(scored, line) if line else ""
    forfeit = (line.step.forfeit if line else "") or (rules.stake if bites and not over else "")
    where = words.place(play.setting(rules, scored.position)) if alone and place_changes(scored) else ""
    how = words.manner(play.setting(rules, scored.position)) if where else ""
    return View(
        title=" ".join(rules.title.split()),
        clock=_clock(card, scored, at_s) if not alone or _clock_counts(rules) else "",
        clock_stands=begun and not over and not card.clock.runs,
        begins=() if begun or over else (_asks(rules), rules.setup),
        stake=rules.stake if not begun else "",
        figure=figure,
        caption=caption,
        alone=alone,
        happened=happened,
        bites=bites,
        forfeit=forfeit,
        question=question,
        next="; ".join(text for text in (where, how) if text) if alone else scored.what_next,
        changes=not over and begun and (place_changes(scored) or rules.two_players is not None),
        ended=over,
        finished=scored.state == "finished",
        note=note,
        legend=_legend(card, over),
    )


def _happened(scored: Scorecard, line: Line) -> str:
    """With the putt's number: two misses in a row must not look like one."""
    what, who = scored.what_happened.partition("; forfeit: ")[0], scored.player(line)
    return f"putt {line.putt}, {who}: {what}" if who else f"putt {line.putt} {what}"


def _asks(rules: Rules) -> str:
    """The rules in force in one paragraph."""
    return " ".join(" ".join(describe(replace(rules, stake=""))).split())


def _question(card: Card) -> str:
    entry = card.hand.entry
    told = [_SHORT[key] for key in (entry.gate, entry.outcome, entry.side, entry.length) if key]
    what = asked(card.rules, card.hand)
    text = _QUESTIONS[what]
    if what == "run-out" and entry.outcome == "made":
        text = "how far past, over a covered hole?"
    return f"{', '.join(told)}: {text}"


def _clock_counts(rules: Rules) -> bool:
    return rules.clock.beat_s is not None or rules.clock.limit_s is not None


def _clock(card: Card, scored: Scorecard, at_s: float) -> str:
    rules = card.rules.clock
    now_s = card.clock_s(at_s)
    if scored.state != "running" and scored.time_s is not None and not card.time_is_up:
        now_s = scored.time_s
    if rules.limit_s is not None:
        return "time is up" if card.time_is_up else f"{time_text(max(rules.limit_s - now_s, 0.0))} left"
    return time_text(now_s) + (f" of {time_text(rules.beat_s)}" if rules.beat_s is not None else "")


# --- the keys --------------------------------------------------------------------------------


def _legend(card: Card, over: bool) -> tuple[tuple[str, str], ...]:
    rules, hand = card.rules, card.hand
    named: list[str] = []
    if hand.entry != EMPTY:
        named += _answers(card)
    elif not over:
        named += ["made", "missed"]
        if uses_gate(stage_of(rules, hand)):
            named += keys.GATES
    legend = [(_LETTER[name], _SHORT[name]) for name in named]
    legend += [
        (str(number), zone.words(past=asked(rules, hand) == "run-out"))
        for number, zone in enumerate(zones_asked(rules, hand), start=1)
    ]
    if hand.entry == EMPTY and hand.last and hand.last.entry.outcome == "missed":
        notes = [*keys.SIDES, *keys.LENGTHS] + ([keys.LIPPED] if _uses_lip(rules) else [])
        notes = [name for name in notes if not (name in keys.LENGTHS and hand.last.entry.run_out)]
        legend += [(_LETTER[name], _SHORT[name]) for name in notes]
    if card.told:
        legend.append(("u", "undo"))
    if not over:
        clock = "pause" if card.clock.runs else "go on"
        legend.append(("space", "start clock" if card.began_s is None else clock))
    return (*legend, ("?", "rules"), ("q", "close"))


def _answers(card: Card) -> list[str]:
    match asked(card.rules, card.hand):
        case "outcome":
            return list(keys.OUTCOMES)
        case "gate":
            return list(keys.GATES)
        case "length":
            return list(keys.LENGTHS)
        case "run-out":
            zones = zones_asked(card.rules, card.hand)
            short = zones[0].low_m == 0 and card.hand.entry.outcome == "missed"
            return ["short"] if short else []
        case "leave":
            return []
        case "side":
            return list(keys.SIDES)


def _uses_lip(rules: Rules) -> bool:
    return any("lipped" in c.words for stage in rules.stages for c in stage.conditions)


def help_text(card: Card) -> list[str]:
    """The rules in force and every key, a paragraph a line."""
    rules = card.rules
    gate = any(uses_gate(stage) for stage in rules.stages)
    lines = [rules.title, "", *describe(rules)]
    lines += ["", " ".join(rules.setup.split())] if rules.setup else []
    lines += ["", "Keys"]
    for letter, name in keys.LETTERS.items():
        if name in keys.ZONES or (name in keys.GATES and not gate):
            continue
        if name == keys.LIPPED and not _uses_lip(rules):
            continue
        lines.append(f"{'space' if letter == ' ' else letter}  {keys.SAYS[name]}")
    if any({"run_out_m", "leave_m"} & measures(stage) for stage in rules.stages):
        lines.append("1, 2, ...  how far away it stopped")
    lines += ["b  sound on, off", "?  this page, and back", "q  close; all is kept"]
    if rules.two_players:
        lines.append(f"{rules.two_players.names[play_side(card.hand.position)]} is to putt.")
    return [*lines, "Arrows: left, right, down short, up past. Backspace: undo."]
