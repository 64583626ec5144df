"""Pressing a card's keys in tests: letters as a scorer types them, one every few seconds."""

from puttvision.card import keys
from puttvision.card.card import new_card, press, refuse
from puttvision.card.keys import Press
from puttvision.drill.catalogue import load
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options

NOON = 1_777_550_400.0
BETWEEN_S = 20.0


def rules(name, **options):
    return with_options(load(name), Options(**options))


def presses(text, start_s=NOON, between_s=BETWEEN_S):
    """``"m x l"`` to presses; ``_`` is the space bar, a number after ``+`` waits so many seconds more."""
    at_s, out = start_s, []
    for word in text.split():
        if word.startswith("+"):
            at_s += float(word[1:])
            continue
        out.append(Press(keys.LETTERS[" " if word == "_" else word], at_s))
        at_s += between_s
    return out


def play(drill_rules, text, start_s=NOON, between_s=BETWEEN_S):
    """An opened card after these letters, each of which must be let through."""
    card = press(new_card(drill_rules), Press(keys.OPENED, start_s - 1))
    for one in presses(text, start_s, between_s):
        assert refuse(card, *one) == "", one
        card = press(card, one)
    return card
