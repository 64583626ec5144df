"""Places: the greens that sessions are played on, and how fast and how tilted they are."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from puttvision.errors import JournalError
from puttvision.journal.people import one_line
from puttvision.journal.questions import nearest_name
from puttvision.journal.store import Store
from puttvision.journal.tables import Place
from puttvision.journal.tables import Session as SessionRow
from puttvision.putts import Figure

_ROLL_FORMAT = "puttvision-roll/1"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceFacts:
    """A place and what is known of it."""

    name: str
    stimp_ft: Figure
    """Green speed as the coach gave it."""
    slope_percent: Figure
    """Fall of the green, rise over run, as the coach gave it."""
    measured_on: date | None
    note: str
    n_sessions: int
    last_clip_stimp_ft: Figure
    """What the newest clip filmed there says of the green speed, and on which day."""
    last_clip_on: date | None


def put_place(
    store: Store,
    name: str,
    *,
    stimp_ft: Figure | None = None,
    slope_percent: Figure | None = None,
    measured_on: date | None = None,
    note: str | None = None,
) -> bool:
    """Add a place, or change what is given of one that is there; True where it is new."""
    name = one_line(name, "a place needs a name of one line")
    if stimp_ft and not 2 <= (stimp_ft.value or 0) <= 20:
        raise JournalError(f"green speed in feet, 2 to 20, was due, got {stimp_ft.value:g}")
    if slope_percent and not 0 <= (slope_percent.value or 0) <= 15:
        raise JournalError(f"a fall of 0 to 15 percent was due, got {slope_percent.value:g}")
    with store.writing() as session:
        row = session.scalar(select(Place).where(Place.name == name))
        new = row is None
        if row is None:
            row = Place(name=name, added_at=datetime.now(UTC), note="")
            session.add(row)
        if stimp_ft is not None:
            row.stimp_ft, row.stimp_ft_u95 = stimp_ft.value, stimp_ft.u95
        if slope_percent is not None:
            row.slope_percent, row.slope_percent_u95 = slope_percent.value, slope_percent.u95
        if stimp_ft is not None or slope_percent is not None:
            row.measured_on = measured_on or date.today()
        if note is not None:
            row.note = note
    return new


def read_roll(path: Path) -> tuple[Figure | None, Figure | None]:
    """Green speed laid level (feet) and fall (percent) of a roll.json that `puttvision roll` wrote.

    The fall is that of both directions together, its interval propagated to first order with the two
    taken as independent; None: not measured. Raises JournalError where the file is no roll.json.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["format"] != _ROLL_FORMAT:
            raise ValueError(data["format"])
        speed, along, right = (
            Figure(data[key]["value"], data[key]["u95"])
            for key in ("stimp_ft", "fall_along_pct", "fall_right_pct")
        )
    except OSError as err:
        raise JournalError(f"cannot read {path}: {err.strerror or err}") from err
    except (ValueError, KeyError, TypeError) as err:
        raise JournalError(f"{path} is no roll.json of `puttvision roll`") from err
    return speed or None, _fall(along, right)


def _fall(along: Figure, right: Figure) -> Figure | None:
    if along.value is None or right.value is None:
        return None
    fall = math.hypot(along.value, right.value)
    u95s = along.u95 or 0.0, right.u95 or 0.0
    if fall == 0:
        return Figure(0.0, max(u95s))
    return Figure(fall, math.hypot(along.value * u95s[0], right.value * u95s[1]) / fall)


def list_places(store: Store) -> list[PlaceFacts]:
    """All places by name."""
    with store.reading() as session:
        query = select(SessionRow.place_id, func.count()).group_by(SessionRow.place_id)
        counts = {row[0]: row[1] for row in session.execute(query)}
        return [
            _facts(session, row, counts.get(row.id, 0))
            for row in session.scalars(select(Place).order_by(Place.name))
        ]


def remove_place(store: Store, name: str) -> None:
    """Remove a place; sessions played there stay, without a place."""
    with store.writing() as session:
        session.execute(delete(Place).where(Place.id == find_place(session, name).id))


def check_known(store: Store, name: str) -> None:
    """Raise JournalError where a place is not in the journal."""
    with store.reading() as session:
        find_place(session, name)


def find_place(session: Session, name: str) -> Place:
    """The place of that name; JournalError with the nearest name where there is none."""
    row = session.scalar(select(Place).where(Place.name == name))
    if row is None:
        hint = nearest_name(name, session.scalars(select(Place.name)).all())
        raise JournalError(
            f'no place "{name}" is in the journal: {hint}`puttvision places add "{name}"` first'
        )
    return row


def _facts(session: Session, row: Place, n_sessions: int) -> PlaceFacts:
    newest = session.execute(
        select(SessionRow.stimp_ft, SessionRow.stimp_ft_u95, SessionRow.day)
        .where(SessionRow.place_id == row.id, SessionRow.stimp_ft.is_not(None))
        .order_by(SessionRow.day.desc(), SessionRow.id.desc())
        .limit(1)
    ).first()
    return PlaceFacts(
        name=row.name,
        stimp_ft=Figure(row.stimp_ft, row.stimp_ft_u95),
        slope_percent=Figure(row.slope_percent, row.slope_percent_u95),
        measured_on=row.measured_on,
        note=row.note,
        n_sessions=n_sessions,
        last_clip_stimp_ft=Figure(newest.stimp_ft, newest.stimp_ft_u95) if newest else Figure(),
        last_clip_on=newest.day if newest else None,
    )
