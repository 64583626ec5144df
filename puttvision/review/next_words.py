"""What to practise next from all putts that the journal has of a player, in words."""

from __future__ import annotations

from puttvision.coaching.attempts import attempts
from puttvision.coaching.next_drills import Advice, advise
from puttvision.drill.words import minutes
from puttvision.journal.history import putts_of
from puttvision.journal.store import Store


def next_lines(store: Store, player: str) -> tuple[str, ...]:
    """One sentence a drill, then what they rest on; where too little is on record, that is said."""
    return in_words(advise(attempts(putts_of(store, player))))


def in_words(advice: Advice) -> tuple[str, ...]:
    """An advice as sentences."""
    drills = [
        f"{choice.title}, {minutes(60 * choice.minutes)}. {' '.join(choice.says)} "
        f"It rests on: {choice.rests_on}."
        for choice in advice.choices
    ]
    return (*drills, *(f"{note[:1].upper()}{note[1:]}." for note in advice.notes))
