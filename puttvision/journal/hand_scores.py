"""Hand scores from a CSV file: all rows are looked at first, and all of them are kept or none.

One row a putt. Needed: ``player``, ``day``, ``outcome``; understood besides: the columns of `COLUMNS`.
Rows of one player, day and ``session`` (any word that tells two of a day apart) are one session, in
the order of the file.
"""

from __future__ import annotations

import csv
import io
import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple, get_args

from puttvision.drill import catalogue
from puttvision.drill.options import with_options
from puttvision.drill.reader import nearest
from puttvision.drill.rules import Options, Rules
from puttvision.drill.scorecard import score
from puttvision.errors import DrillError, JournalError
from puttvision.journal.people import list_players
from puttvision.journal.places import list_places
from puttvision.journal.record import Kept, keep_in
from puttvision.journal.store import Store
from puttvision.putts import Figure, GateResult, MissLength, MissSide, Outcome, Putt, PuttSheet

NEEDED = ("player", "day", "outcome")
COLUMNS = (
    "player", "day", "session", "place", "drill", "target", "putts_in_drill", "strict", "putt", "outcome",
    "gate_result", "lipped", "miss_side", "miss_length", "hole_distance_m",
)  # fmt: skip
_CHOICES = {
    "outcome": get_args(Outcome),
    "gate_result": get_args(GateResult),
    "miss_side": get_args(MissSide),
    "miss_length": get_args(MissLength),
}
_YES = {"": False, "no": False, "false": False, "0": False, "yes": True, "true": True, "1": True}


class BadRowsError(JournalError):
    """Rows that cannot be kept: ``rows`` has a message for each; nothing was kept."""

    def __init__(self, path: Path, rows: Sequence[str]) -> None:
        count = f"{len(rows)} faults" if len(rows) > 1 else "1 fault"
        super().__init__(f"{path}: {count}, nothing was kept; first: {rows[0]}")
        self.rows = tuple(rows)


class Key(NamedTuple):
    """What rows of one session have in common."""

    player: str
    day: date
    session: str
    place: str
    drill: str
    target: int | None
    putts_in_drill: int | None
    strict: bool


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import kept."""

    sessions: int
    putts: int
    known: int
    """Sessions that were in the journal already."""


def import_scores(store: Store, path: Path) -> Imported:
    """Keep the hand scores of a CSV file, in one transaction.

    Raises BadRowsError with an exact message for every bad row, JournalError where the file cannot be
    read or its columns are not those that are due; nothing is kept then.
    """
    sessions = read_scores(
        path,
        players=[one.name for one in list_players(store)],
        places=[one.name for one in list_places(store)],
    )
    kept: list[tuple[Kept, int]] = []
    with store.writing() as session:
        for key, putts in sessions.items():
            sheet = PuttSheet(putts=tuple(putts))
            card = score(_rules(key), putts) if key.drill else None
            text = catalogue.text(key.drill) if key.drill else ""
            done = keep_in(
                session,
                key.player,
                sheet,
                day=key.day,
                card=card,
                rules_text=text,
                place=key.place or None,
                label=key.session,
            )
            kept.append((done, len(putts)))
    return Imported(
        sessions=sum(done.new_session for done, _ in kept),
        putts=sum(n for done, n in kept if done.new_session),
        known=sum(not done.new_session for done, _ in kept),
    )


def read_scores(path: Path, *, players: Sequence[str], places: Sequence[str]) -> dict[Key, list[Putt]]:
    """Sessions of a CSV file and their putts; raises as `import_scores`."""
    rows = _rows(path)
    faults: list[str] = []
    sessions: dict[Key, list[Putt]] = defaultdict(list)
    for number, row in rows:
        wrong = _Faults(f"line {number}")
        key = _key(row, wrong, players, places)
        putt = _putt(row, wrong)
        if key is not None and putt is not None and not wrong.found:
            before = sessions[key]
            if row["putt"] == "":
                putt = replace(putt, number=before[-1].number + 1 if before else 1)
            if before and putt.number <= before[-1].number:
                wrong.add("putt", f"a number above {before[-1].number} was due in this session", putt.number)
            else:
                before.append(putt)
        faults += wrong.found
    if faults:
        raise BadRowsError(path, faults)
    if not sessions:
        raise JournalError(f"{path} has no row below its head: nothing was kept")
    return dict(sessions)


class _Faults:
    """Collects what is wrong with one row."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.found: list[str] = []

    def add(self, column: str, due: str, got: Any) -> None:
        shown = f'"{got}"' if isinstance(got, str) else str(got)
        self.found.append(f"{self.where}, {column}: {due}, got {shown}")


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    """Rows with the number of the line each ends on; every column there, empty where it is not given."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as err:
        raise JournalError(f"cannot read {path}: {err.strerror or err}") from err
    except UnicodeDecodeError:
        raise JournalError(f"{path} is not in UTF-8: save it as CSV UTF-8") from None
    head = text.split("\n", 1)[0]
    reader = csv.reader(io.StringIO(text), delimiter=";" if head.count(";") > head.count(",") else ",")
    names = [name.strip().lower() for name in next(reader, [])]
    for name in names:
        if name not in COLUMNS:
            raise JournalError(f'{path}: no column is called "{name}"{nearest(name, COLUMNS)}')
    missing = [name for name in NEEDED if name not in names]
    if missing or len(set(names)) != len(names):
        what = f"the column {missing[0]} is missing" if missing else "a column stands there twice"
        raise JournalError(
            f"{path}: {what}; the first line names the columns, such as player,day,putt,outcome"
        )
    found = []
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) > len(names):
                raise JournalError(
                    f"{path}, line {reader.line_num}: {len(names)} cells were due, got {len(cells)}"
                )
            row = dict.fromkeys(COLUMNS, "")
            row |= {name: cell.strip() for name, cell in zip(names, cells, strict=False)}
            found.append((reader.line_num, row))
    except csv.Error as err:
        raise JournalError(f"{path}, line {reader.line_num}: {err}") from err
    return found


def _key(row: dict[str, str], wrong: _Faults, players: Sequence[str], places: Sequence[str]) -> Key | None:
    if row["player"] not in players:
        wrong.add(
            "player", f"a player of the journal was due{nearest(row['player'], players)}", row["player"]
        )
    if row["place"] and row["place"] not in places:
        wrong.add("place", f"a place of the journal was due{nearest(row['place'], places)}", row["place"])
    try:
        day = date.fromisoformat(row["day"])
    except ValueError:
        wrong.add("day", "a day such as 2026-04-30 was due", row["day"])
        return None
    if row["drill"] and row["drill"] not in catalogue.names():
        near = nearest(row["drill"], catalogue.names())
        wrong.add("drill", f"a drill of the catalogue was due{near}", row["drill"])
        return None
    key = Key(
        player=row["player"],
        day=day,
        session=row["session"],
        place=row["place"],
        drill=row["drill"],
        target=_whole(row, "target", wrong),
        putts_in_drill=_whole(row, "putts_in_drill", wrong),
        strict=_yes(row, "strict", wrong),
    )
    if wrong.found or not key.drill:
        if not key.drill and (key.target or key.putts_in_drill or key.strict):
            wrong.add("drill", "a drill was due with target, putts_in_drill or strict", "")
        return key
    try:
        if _rules(key).two_players:
            wrong.add("drill", "a drill for one was due", key.drill)
    except DrillError as err:
        wrong.found.append(f"{wrong.where}, drill: {err}")
    return key


def _rules(key: Key) -> Rules:
    options = Options(target=key.target, putts=key.putts_in_drill, strict=key.strict)
    return with_options(catalogue.load(key.drill), options)


def _putt(row: dict[str, str], wrong: _Faults) -> Putt | None:
    values: dict[str, Any] = {}
    for column, choices in _CHOICES.items():
        got = row[column].lower()
        if got in choices:
            values[column] = got
        elif got or column == "outcome":
            wrong.add(column, "one of " + ", ".join(choices) + " was due", row[column])
    values["lipped"] = _yes(row, "lipped", wrong)
    number = _whole(row, "putt", wrong) or 1
    if row["hole_distance_m"]:
        values["hole_distance_m"] = Figure(_distance(row, wrong))
    if wrong.found:
        return None
    if values["outcome"] != "missed":
        for column in ("miss_side", "miss_length"):
            if column in values:
                wrong.add(column, f"nothing was due with a putt that was {values['outcome']}", row[column])
    if values["lipped"] and values["outcome"] == "holed":
        wrong.add("lipped", "no was due: a ball that drops did not lip out", row["lipped"])
    return None if wrong.found else Putt(number=number, **values)


def _whole(row: dict[str, str], column: str, wrong: _Faults) -> int | None:
    text = row[column]
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 100_000):
        wrong.add(column, "a whole number from 1 was due", text)
        return None
    return int(text)


def _yes(row: dict[str, str], column: str, wrong: _Faults) -> bool:
    if row[column].lower() not in _YES:
        wrong.add(column, "yes or no was due", row[column])
    return _YES.get(row[column].lower(), False)


def _distance(row: dict[str, str], wrong: _Faults) -> float | None:
    try:
        metres = float(row["hole_distance_m"].replace(",", "."))
    except ValueError:
        metres = math.nan
    if not 0.1 <= metres <= 60:
        wrong.add("hole_distance_m", "metres, 0.1 to 60, were due", row["hole_distance_m"])
        return None
    return metres
