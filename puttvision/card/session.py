"""An open card: takes the scorer's keys, puts each on disk first, and keeps the result files current."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from puttvision.card import keys, log
from puttvision.card.card import Card, new_card, press, refuse, replay, scorecard, sheet
from puttvision.card.clock import time_text
from puttvision.card.keys import Press
from puttvision.card.log import CardLog, Header
from puttvision.card.view import View, look
from puttvision.drill.load import parse_rules
from puttvision.drill.options import with_options
from puttvision.drill.rules import Rules
from puttvision.drill.scorecard import Scorecard
from puttvision.drill.words import several
from puttvision.files import write_json
from puttvision.putts import to_json

PUTTS_FILE, SCORECARD_FILE = "putts.json", "scorecard.json"
_ASLEEP_S = 15.0
"""A page that was not looked after for so long: the lid was closed. The clock then stands from its last
look on. It looks once a second; a busy computer may be late by some. No source."""


def rules_of(header: Header, where: str) -> Rules:
    """The rules a card was begun with."""
    rules = with_options(parse_rules(header.rules, where), header.options)
    return rules if header.stake is None else replace(rules, stake=header.stake)


class Session:
    """One card, open; ``now`` tells the time in seconds since 1970."""

    def __init__(self, card: Card, card_log: CardLog, sound: bool, now: Callable[[], float]) -> None:
        self.card = card
        self.scored: Scorecard = scorecard(card)
        self.sound = sound
        self.note = ""
        self.bell = False
        """Whether the last key is to be heard."""
        self._log = card_log
        self._now = now
        self._looked_s = now()

    @classmethod
    def begin(
        cls, folder: Path, header: Header, *, sound: bool = True, now: Callable[[], float] = time.time
    ) -> Session:
        """Begin a card in a folder; DrillError or CardError where that cannot be."""
        card = new_card(rules_of(header, header.drill))
        session = cls(card, log.begin(folder, header), sound, now)
        session._opened()
        return session

    @classmethod
    def resume(
        cls,
        folder: Path,
        *,
        take_over: bool = False,
        sound: bool = True,
        now: Callable[[], float] = time.time,
    ) -> Session:
        """Open the card in a folder again; CardError where that cannot be."""
        card_log, header, presses = log.go_on(folder, take_over)
        try:
            card = replay(rules_of(header, str(folder / log.LOG_FILE)), presses)
            session = cls(card, card_log, sound, now)
            session._opened()
        except BaseException:
            card_log.close()
            raise
        if card.told:
            closed = time_text(max(session.card.at_s - card.at_s, 0.0))
            here = several(len(card.hand.laid), "putt")
            session.note = f"Opened again after {closed}; {here} here"
        return session

    def _opened(self) -> None:
        self._take(keys.OPENED)
        self._save()

    def _take(self, key: str, at_s: float | None = None) -> None:
        """One key: on disk, then in the card."""
        at_s = max(self._now() if at_s is None else at_s, self.card.at_s)
        one = Press(key, round(at_s, 3))
        self._log.append(one)
        self.card = press(self.card, one)

    def _save(self) -> None:
        """Bring putts.json and scorecard.json up to date."""
        self.scored = scorecard(self.card)
        write_json(self._log.folder / PUTTS_FILE, to_json(sheet(self.card)))
        write_json(self._log.folder / SCORECARD_FILE, self.scored.to_json())

    def key(self, name: str) -> None:
        """One key of the scorer; CardError or PuttvisionError where the disk takes nothing more."""
        self.tick()
        self.note, self.bell = "", False
        at_s = max(self._now(), self.card.at_s)
        if refused := refuse(self.card, name, at_s):
            self.note, self.bell = refused[:1].upper() + refused[1:], True
            return
        stood = bool(self.card.told) and not self.card.clock.runs and not self.card.over
        before = self.card
        self._take(name)
        if self.card.hand is not before.hand or self.card.told != before.told:
            self._save()
        if name in keys.OUTCOMES and stood and self.card.clock.runs:
            self.note = "The clock goes on"
        if name == keys.UNDO:
            self.note = f"Taken back: {keys.SAYS.get(before.told[-1][0], 'how far')}"
        elif name in keys.PUTT_KEYS:
            view = self.view()
            self.bell = view.bites or view.ended
        elif name == keys.CLOCK and not self.card.told:
            self.note = "The clock runs" if self.card.began_s is not None else "The clock waits"

    def tick(self) -> None:
        """Look at the time: once a second, and before each key."""
        now_s = self._now()
        if now_s - self._looked_s > _ASLEEP_S and self.card.clock.runs and self.card.began_s is not None:
            self._take(keys.SLEPT, self._looked_s)
            self.note = f"The computer slept for {time_text(now_s - self._looked_s)}; the clock waited"
        self._looked_s = now_s
        if self.card.limit_passed(now_s):
            self._take(keys.TIME_UP)
            self._save()
            self.bell = True

    def asked_to_hand_over(self) -> bool:
        """Whether another window wants this card."""
        return self._log.asked_to_hand_over()

    def view(self) -> View:
        """What the page has to show now."""
        return look(self.card, self.scored, self._now(), self.note)

    def close(self) -> None:
        """Note that the card was closed, and let it go."""
        try:
            self._take(keys.CLOSED)
        finally:
            self._log.close()
