"""Players: adding and changing them, and consent to film."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from puttvision.errors import JournalError
from puttvision.journal.questions import no_such_player
from puttvision.journal.store import Store
from puttvision.journal.tables import Player, PuttRow
from puttvision.journal.tables import Session as SessionRow

CONSENT_NOTE = (
    "Before a pupil is filmed: has the pupil, or for anyone under age a parent or guardian, agreed to "
    "filming and to keeping the marks? Keep to your club's safeguarding rules and to local law."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayerFacts:
    """What the list of players shows of one."""

    name: str
    hand: str
    consent_at: datetime | None
    n_sessions: int
    n_putts: int
    last_day: date | None


def add_player(store: Store, name: str, *, hand: str = "right", consent: bool = False) -> None:
    """Add a player; JournalError where the name is empty or taken."""
    name = one_line(name, "a player needs a name or a code of one line")
    now = datetime.now(UTC)
    with store.writing() as session:
        if session.scalar(select(Player.id).where(Player.name == name)) is not None:
            raise JournalError(f"{name} is in the journal already: choose another name or a code")
        session.add(Player(name=name, hand=hand, added_at=now, consent_at=now if consent else None, note=""))


def change_player(store: Store, name: str, *, new_name: str | None = None, hand: str | None = None) -> None:
    """Give a player another name or code, or another dominant hand; JournalError where the name is taken."""
    with store.writing() as session:
        player = find_player(session, name)
        if new_name is not None:
            new_name = one_line(new_name, "a player needs a name or a code of one line")
            taken = session.scalar(select(Player.id).where(Player.name == new_name))
            if taken not in (None, player.id):
                raise JournalError(f"{new_name} is in the journal already: choose another name or a code")
            player.name = new_name
        if hand is not None:
            player.hand = hand


def withdraw_consent(store: Store, name: str) -> None:
    """Keep that consent to film was taken back; what is kept stays until the player is forgotten."""
    with store.writing() as session:
        find_player(session, name).consent_at = None


def give_consent(store: Store, name: str) -> datetime | None:
    """Keep that consent to film was given, and when; the first time stays and is given back."""
    with store.writing() as session:
        player = find_player(session, name)
        before = player.consent_at
        player.consent_at = before or datetime.now(UTC)
        return before


def list_players(store: Store) -> list[PlayerFacts]:
    """All players by name, with how much of each is kept."""
    query = (
        select(
            Player.name,
            Player.hand,
            Player.consent_at,
            func.count(func.distinct(SessionRow.id)),
            func.count(PuttRow.id),
            func.max(SessionRow.day),
        )
        .outerjoin(SessionRow, SessionRow.player_id == Player.id)
        .outerjoin(PuttRow, PuttRow.session_id == SessionRow.id)
        .group_by(Player.id)
        .order_by(Player.name)
    )
    with store.reading() as session:
        return [
            PlayerFacts(
                name=name, hand=hand, consent_at=consent, n_sessions=sessions, n_putts=putts, last_day=day
            )
            for name, hand, consent, sessions, putts, day in session.execute(query)
        ]


def check_may_keep(store: Store, name: str, *, filmed: bool) -> None:
    """Raise JournalError where a player is unknown, or is to be filmed and consent was not given."""
    with store.reading() as session:
        require_consent(find_player(session, name), filmed=filmed)


def require_consent(player: Player, *, filmed: bool) -> None:
    """Raise JournalError where putts come from a clip and consent to film was not given."""
    if filmed and player.consent_at is None:
        raise JournalError(
            f"no consent to film {player.name} is kept: ask, "
            f'then `puttvision players consent "{player.name}"`'
        )


def find_player(session: Session, name: str) -> Player:
    """The player of that name; JournalError with the nearest name where there is none."""
    player = session.scalar(select(Player).where(Player.name == name))
    if player is None:
        raise no_such_player(name, session.scalars(select(Player.name)))
    return player


def one_line(text: str, due: str) -> str:
    """``text`` without blanks around it; JournalError saying what was due where it is no single line."""
    text = text.strip()
    if not text or not text.isprintable():
        raise JournalError(due)
    return text
