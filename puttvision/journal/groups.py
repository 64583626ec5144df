"""Groups of players."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from puttvision.errors import JournalError
from puttvision.journal.people import find_player, one_line
from puttvision.journal.questions import nearest_name
from puttvision.journal.store import Store
from puttvision.journal.tables import Group, GroupMember, Player


@dataclass(frozen=True, slots=True)
class GroupFacts:
    """A group and who is in it, by name."""

    name: str
    members: tuple[str, ...]
    note: str


def add_group(store: Store, name: str, players: Sequence[str] = (), note: str = "") -> None:
    """Make a group; JournalError where the name is taken or a player unknown, and nothing is made."""
    name = one_line(name, "a group needs a name of one line")
    with store.writing() as session:
        if session.scalar(select(Group.id).where(Group.name == name)) is not None:
            raise JournalError(
                f"the group {name} is in the journal already: `puttvision groups join` adds players"
            )
        group = Group(name=name, made_at=datetime.now(UTC), note=note)
        session.add(group)
        session.flush()
        _join(session, group, players)


def add_members(store: Store, group: str, players: Sequence[str]) -> None:
    """Take players into a group; who is in it already stays."""
    with store.writing() as session:
        _join(session, find_group(session, group), players)


def remove_members(store: Store, group: str, players: Sequence[str]) -> None:
    """Take players out of a group; JournalError for one who is not in it, and nobody is taken out."""
    with store.writing() as session:
        row = find_group(session, group)
        for name in players:
            member = session.get(GroupMember, (row.id, find_player(session, name).id))
            if member is None:
                raise JournalError(f"{name} is not in the group {group}")
            session.delete(member)


def remove_group(store: Store, name: str) -> None:
    """Remove a group; its players and their sessions stay."""
    with store.writing() as session:
        session.execute(delete(Group).where(Group.id == find_group(session, name).id))


def members(store: Store, group: str) -> list[str]:
    """Names of the players in a group, by the alphabet."""
    with store.reading() as session:
        return list(_members(session, find_group(session, group).id))


def list_groups(store: Store) -> list[GroupFacts]:
    """All groups by name."""
    with store.reading() as session:
        return [
            GroupFacts(row.name, _members(session, row.id), row.note)
            for row in session.scalars(select(Group).order_by(Group.name))
        ]


def find_group(session: Session, name: str) -> Group:
    """The group of that name; JournalError with the nearest name where there is none."""
    row = session.scalar(select(Group).where(Group.name == name))
    if row is None:
        hint = nearest_name(name, session.scalars(select(Group.name)).all())
        raise JournalError(
            f'no group "{name}" is in the journal: {hint}`puttvision groups add "{name}"` first'
        )
    return row


def _members(session: Session, group_id: int) -> tuple[str, ...]:
    query = select(Player.name).join(GroupMember, GroupMember.player_id == Player.id)
    return tuple(session.scalars(query.where(GroupMember.group_id == group_id).order_by(Player.name)))


def _join(session: Session, group: Group, players: Sequence[str]) -> None:
    now = datetime.now(UTC)
    for name in dict.fromkeys(players):
        player_id = find_player(session, name).id
        if session.get(GroupMember, (group.id, player_id)) is None:
            session.add(GroupMember(group_id=group.id, player_id=player_id, joined_at=now))
            session.flush()
