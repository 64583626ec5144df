"""What the journal holds of players: sessions, putts and scorecards, with all corrections applied.

Each function asks the store a fixed number of questions, however many sessions there are, and only
for the columns it hands out; in plain SQL, so that any store can be asked (`questions.py`).
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, NamedTuple

from puttvision.errors import JournalError
from puttvision.journal.amend import amended, events_of
from puttvision.journal.questions import Ask, Asked, day_in, player_id, time_in
from puttvision.journal.rows import GATE_COLUMNS, PUTT_COLUMNS, gate_of, putt_of
from puttvision.putts import Figure, Gate, Putt


@dataclass(frozen=True, slots=True, kw_only=True)
class CardFacts:
    """A drill that was scored from a session, as it stands after corrections."""

    id: int
    drill: str
    title: str
    options: dict[str, Any]
    state: str
    counted: int
    made: int
    points: float | None
    restarts: int
    best_streak: int
    time_s: float | None
    stake: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionFacts:
    """A session without its putts."""

    id: int
    player: str
    hand: str
    day: date
    kept_at: datetime
    filmed: bool
    clip_file: str | None
    clip_path: str | None
    clip_hash: str | None
    place: str | None
    stimp_ft: Figure
    gate: Gate | None
    n_putts: int
    """As measured; corrections may have taken some away or added some."""
    note: str
    version: int
    """Number of corrections and undoings."""
    cards: tuple[CardFacts, ...]


class LineFacts(NamedTuple):
    """What a drill made of a putt, and how the putt was to be played."""

    card_id: int
    drill: str
    stage: int
    made: bool
    points: float | None
    restarted: bool
    distance_m: float | None
    """As the drill asks it."""
    grip: str
    ball: str
    side: str
    from_: str
    slope: str
    gate_mm: float | None
    forfeit: str


class Played(NamedTuple):
    """A putt as it stands, with its session and what each drill made of it."""

    session: SessionFacts
    putt: Putt
    lines: tuple[LineFacts, ...]

    @property
    def line(self) -> LineFacts | None:
        """The first drill's line; None where no drill counted the putt."""
        return self.lines[0] if self.lines else None


class CardOf(NamedTuple):
    """A scorecard and whose it is."""

    player: str
    day: date
    session_id: int
    card: CardFacts


def putts_of(
    store: Asked,
    player: str,
    *,
    since: date | None = None,
    until: date | None = None,
    drill: str | None = None,
) -> list[Played]:
    """All putts of a player in the order they were played; with ``drill`` those its scorecards counted.

    ``since`` and ``until`` are days, both taken in. Raises JournalError for an unknown player.
    """
    with store.asking() as ask:
        which = _sessions(player_id(ask, player), since, until, drill)
        facts = _facts(ask, which)
        measured: dict[int, list[Putt]] = defaultdict(list)
        for row in ask(
            f"{_PUTTS} WHERE session_id IN ({which.ids}) ORDER BY session_id, number", which.values
        ):
            measured[row.session_id].append(putt_of(row))
        corrections = _corrections(ask, which)
        lines = _lines(ask, which, drill)
    found = []
    for one in facts:
        putts = tuple(measured[one.id])
        if one.id in corrections:
            putts = amended(putts, events_of(corrections[one.id])).putts
        of_putt = lines[one.id]
        found += [
            Played(one, putt, tuple(of_putt[putt.number]))
            for putt in putts
            if drill is None or putt.number in of_putt
        ]
    return found


def sessions_of(
    store: Asked,
    player: str | None = None,
    *,
    since: date | None = None,
    until: date | None = None,
    drill: str | None = None,
    limit: int | None = None,
) -> list[SessionFacts]:
    """Sessions of a player, or of all, oldest first; ``limit``: only the newest so many."""
    with store.asking() as ask:
        number = player_id(ask, player) if player is not None else None
        return _facts(ask, _sessions(number, since, until, drill, limit))


def session_facts(store: Asked, session_id: int) -> SessionFacts:
    """One session; JournalError where there is none of that number."""
    with store.asking() as ask:
        found = _facts(ask, _Which("SELECT id FROM sessions WHERE id = :session", {"session": session_id}))
    if not found:
        raise JournalError(
            f"no session {session_id} is in the journal: `puttvision sessions list` shows them"
        )
    return found[0]


def cards_of(
    store: Asked, players: Sequence[str], drill: str, *, since: date | None = None, until: date | None = None
) -> list[CardOf]:
    """All scorecards of one drill of several players, oldest first."""
    which = _sessions(None, since, until, drill)
    names = {f"player{number}": name for number, name in enumerate(players)}
    statement = (
        f"SELECT players.name AS player, sessions.day, scorecards.session_id, {_CARD} FROM scorecards "
        "JOIN sessions ON sessions.id = scorecards.session_id "
        "JOIN players ON players.id = sessions.player_id "
        f"WHERE players.name IN ({', '.join(f':{key}' for key in names) or 'NULL'}) "
        f"AND scorecards.drill = :drill AND sessions.id IN ({which.ids}) "
        "ORDER BY sessions.day, sessions.id, scorecards.id"
    )
    with store.asking() as ask:
        rows = ask(statement, {**which.values, **names})
        return [CardOf(row.player, day_in(row.day), row.session_id, _card(row)) for row in rows]


# --- questions -----------------------------------------------------------------------------------


class _Which(NamedTuple):
    """Which sessions are meant: a query of their numbers, to stand in others, and its values."""

    ids: str
    values: Mapping[str, Any]


_PUTTS = f"SELECT session_id, {', '.join(PUTT_COLUMNS)} FROM putts"
_CARD = ", ".join(
    f"scorecards.{name}"
    for name in (
        "id", "drill", "title", "options_text", "state", "counted", "made", "points", "restarts",
        "best_streak", "time_s", "stake",
    )
)  # fmt: skip
_SESSION = ", ".join(
    f"sessions.{name}"
    for name in (
        "id", "day", "kept_at", "clip_file", "clip_path", "clip_hash", "stimp_ft", "stimp_ft_u95", "note",
        *GATE_COLUMNS,
    )
)  # fmt: skip
_LINE = ", ".join(
    f"scorecard_lines.{name}"
    for name in (
        "stage", "made", "points", "restarted", "distance_m", "grip", "ball", "side", "from_side", "slope",
        "gate_mm", "forfeit",
    )
)  # fmt: skip


def _sessions(
    player: int | None, since: date | None, until: date | None, drill: str | None, limit: int | None = None
) -> _Which:
    """Sessions of a player, of days and of a drill, each where it is given; ``limit``: the newest so many."""
    tests = {
        "player_id = :player": player,
        "day >= :since": since,
        "day <= :until": until,
        "id IN (SELECT session_id FROM scorecards WHERE drill = :drill)": drill,
    }
    asked = [test for test, value in tests.items() if value is not None]
    ids = "SELECT id FROM sessions" + (f" WHERE {' AND '.join(asked)}" if asked else "")
    if limit is not None:
        ids = f"SELECT id FROM ({ids} ORDER BY day DESC, id DESC LIMIT :newest) AS newest"
    given = {"player": player, "since": since, "until": until, "drill": drill, "newest": limit}
    return _Which(ids, {name: value for name, value in given.items() if value is not None})


def _facts(ask: Ask, which: _Which) -> list[SessionFacts]:
    putts, versions = _counts(ask, "putts", which), _counts(ask, "corrections", which)
    cards: dict[int, list[CardFacts]] = defaultdict(list)
    of_cards = f"SELECT session_id, {_CARD} FROM scorecards WHERE session_id IN ({which.ids}) ORDER BY id"
    for row in ask(of_cards, which.values):
        cards[row.session_id].append(_card(row))
    statement = (
        f"SELECT {_SESSION}, players.name AS player, players.hand, places.name AS place FROM sessions "
        "JOIN players ON players.id = sessions.player_id LEFT JOIN places ON places.id = sessions.place_id "
        f"WHERE sessions.id IN ({which.ids}) ORDER BY sessions.day, sessions.id"
    )
    return [
        SessionFacts(
            id=row.id,
            player=row.player,
            hand=row.hand,
            day=day_in(row.day),
            kept_at=time_in(row.kept_at),
            filmed=row.clip_file is not None,
            clip_file=row.clip_file,
            clip_path=row.clip_path,
            clip_hash=row.clip_hash,
            place=row.place,
            stimp_ft=Figure(row.stimp_ft, row.stimp_ft_u95),
            gate=gate_of(row),
            n_putts=putts.get(row.id, 0),
            note=row.note,
            version=versions.get(row.id, 0),
            cards=tuple(cards[row.id]),
        )
        for row in ask(statement, which.values)
    ]


def _counts(ask: Ask, table: str, which: _Which) -> dict[int, int]:
    """Number of rows of a table by session."""
    statement = (
        f"SELECT session_id, count(*) AS n FROM {table} WHERE session_id IN ({which.ids}) GROUP BY session_id"
    )
    return {row.session_id: row.n for row in ask(statement, which.values)}


def _corrections(ask: Ask, which: _Which) -> dict[int, list[Any]]:
    """Rows of corrections by session, in their order."""
    found: dict[int, list[Any]] = defaultdict(list)
    statement = (
        "SELECT session_id, version, at, who, putt, field, from_text, to_text, why, undoes FROM corrections "
        f"WHERE session_id IN ({which.ids}) ORDER BY session_id, version"
    )
    for row in ask(statement, which.values):
        found[row.session_id].append(row)
    return dict(found)


def _lines(ask: Ask, which: _Which, drill: str | None) -> dict[int, dict[int, list[LineFacts]]]:
    """Lines of scorecards by session and putt."""
    statement = (
        f"SELECT scorecards.session_id, scorecard_lines.putt, scorecards.id, scorecards.drill, {_LINE} "
        "FROM scorecards JOIN scorecard_lines ON scorecard_lines.scorecard_id = scorecards.id "
        f"WHERE scorecards.session_id IN ({which.ids})"
        f"{' AND scorecards.drill = :drill' if drill is not None else ''} "
        "ORDER BY scorecards.id, scorecard_lines.id"
    )
    found: dict[int, dict[int, list[LineFacts]]] = defaultdict(lambda: defaultdict(list))
    for session, putt, *columns in ask(statement, which.values):
        line = LineFacts(*columns)
        found[session][putt].append(line._replace(made=bool(line.made), restarted=bool(line.restarted)))
    return found


def _card(row: Any) -> CardFacts:
    return CardFacts(
        id=row.id,
        drill=row.drill,
        title=row.title,
        options=json.loads(row.options_text),
        state=row.state,
        counted=row.counted,
        made=row.made,
        points=row.points,
        restarts=row.restarts,
        best_streak=row.best_streak,
        time_s=row.time_s,
        stake=row.stake,
    )
