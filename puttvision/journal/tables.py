"""The tables of the journal.

Units stand in the column names, as in putts.json; every measured figure has a ``..._u95`` beside
it (half-width of its 95 % interval). Times are UTC. What was measured is never overwritten.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, DateTime, ForeignKey, Index, MetaData, UniqueConstraint
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship
from sqlalchemy.types import TypeDecorator


class UtcTime(TypeDecorator[datetime]):
    """A time with its zone: kept as UTC, on databases that drop the zone too."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(
        self,
        value: datetime | None,
        dialect: Dialect,  # noqa: ARG002
    ) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a time needs its zone, got {value}")
        return value.astimezone(UTC)

    def process_result_value(
        self,
        value: datetime | None,
        dialect: Dialect,  # noqa: ARG002
    ) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012
        datetime: UtcTime,
        dict[str, Any]: JSON,
        list[str]: JSON,
        list[int]: JSON,
    }


def _owned(key: str) -> Any:
    """A foreign key whose row goes when its owner goes."""
    return mapped_column(ForeignKey(key, ondelete="CASCADE"), index=True)


class Player(Base):
    """A person, by name or by a code that the coach chose."""

    __tablename__ = "players"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    hand: Mapped[str]
    """Dominant hand: ``right`` or ``left``."""
    added_at: Mapped[datetime]
    consent_at: Mapped[datetime | None]
    """When the coach said that consent to film was given; None: not asked or not given."""
    note: Mapped[str]
    board_code: Mapped[str | None] = mapped_column(unique=True, index=True)
    """Stands for the name on a notice board; None: not drawn yet (`board_codes.py`)."""

    sessions: Mapped[list[Session]] = relationship(back_populates="player", passive_deletes=True)


class Group(Base):
    """Players who putt against each other, or whom the coach teaches together."""

    __tablename__ = "groups"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    made_at: Mapped[datetime]
    note: Mapped[str]


class GroupMember(Base):
    """That a player is in a group."""

    __tablename__ = "group_members"

    group_id: Mapped[int] = mapped_column(ForeignKey("groups.id", ondelete="CASCADE"), primary_key=True)
    player_id: Mapped[int] = mapped_column(
        ForeignKey("players.id", ondelete="CASCADE"), primary_key=True, index=True
    )
    joined_at: Mapped[datetime]


class Place(Base):
    """A green, or a spot on one, and how fast and how tilted it is taken to be."""

    __tablename__ = "places"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(unique=True)
    added_at: Mapped[datetime]
    stimp_ft: Mapped[float | None]
    """Green speed as the coach measured it; what clips say of it is kept with each session."""
    stimp_ft_u95: Mapped[float | None]
    slope_percent: Mapped[float | None]
    """How much the green falls, rise over run."""
    slope_percent_u95: Mapped[float | None]
    measured_on: Mapped[date | None]
    note: Mapped[str]


class Session(Base):
    """The putts of one player from one clip or one list, and how the green and the gate were then."""

    __tablename__ = "sessions"
    __table_args__ = (
        UniqueConstraint("player_id", "sheet_hash", name="uq_sessions_sheet"),
        UniqueConstraint("player_id", "clip_hash", name="uq_sessions_clip"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int] = _owned("players.id")
    day: Mapped[date]
    """The day it was played, as the coach's calendar has it."""
    kept_at: Mapped[datetime]
    sheet_hash: Mapped[str]
    """SHA-256 of the putts as they came; of a list by hand with its day."""
    clip_hash: Mapped[str | None]
    """SHA-256 of the clip's bytes, where the clip was at hand."""
    clip_file: Mapped[str | None]
    clip_path: Mapped[str | None]
    """Where the clip lay when it was kept."""
    clip_duration_s: Mapped[float | None]
    clip_frames: Mapped[int | None]
    stimp_ft: Mapped[float | None]
    stimp_ft_u95: Mapped[float | None]
    gate_distance_m: Mapped[float | None]
    gate_distance_m_u95: Mapped[float | None]
    gate_width_mm: Mapped[float | None]
    gate_width_mm_u95: Mapped[float | None]
    gate_square_deg: Mapped[float | None]
    gate_square_deg_u95: Mapped[float | None]
    note: Mapped[str]
    place_id: Mapped[int | None] = mapped_column(ForeignKey("places.id", ondelete="SET NULL"))
    clip_width: Mapped[int | None]
    clip_height: Mapped[int | None]
    sheets: Mapped[list[int] | None]
    """Ids of the printed sheets that were found."""
    reprojection_rms_px: Mapped[float | None]
    hole_u_px: Mapped[float | None]
    hole_v_px: Mapped[float | None]
    warnings: Mapped[list[str] | None]

    player: Mapped[Player] = relationship(back_populates="sessions")
    putts: Mapped[list[PuttRow]] = relationship(
        back_populates="session", passive_deletes=True, order_by="PuttRow.number"
    )
    scorecards: Mapped[list[Scorecard]] = relationship(
        back_populates="session", passive_deletes=True, order_by="Scorecard.id"
    )


class PuttRow(Base):
    """A putt as it was measured or entered; nothing changes it afterwards (see `Correction`)."""

    __tablename__ = "putts"
    __table_args__ = (UniqueConstraint("session_id", "number", name="uq_putts_number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    session_id: Mapped[int] = mapped_column(ForeignKey("sessions.id", ondelete="CASCADE"))
    number: Mapped[int]
    outcome: Mapped[str]
    gate_result: Mapped[str]
    lipped: Mapped[bool]
    miss_side: Mapped[str | None]
    miss_length: Mapped[str | None]
    confidence: Mapped[float | None]
    review: Mapped[list[str] | None]
    start_s: Mapped[float | None]
    start_s_u95: Mapped[float | None]
    hole_distance_m: Mapped[float | None]
    hole_distance_m_u95: Mapped[float | None]
    start_direction_to_hole_deg: Mapped[float | None]
    start_direction_to_hole_deg_u95: Mapped[float | None]
    start_direction_to_gate_deg: Mapped[float | None]
    start_direction_to_gate_deg_u95: Mapped[float | None]
    launch_speed_m_s: Mapped[float | None]
    launch_speed_m_s_u95: Mapped[float | None]
    gate_offset_mm: Mapped[float | None]
    gate_offset_mm_u95: Mapped[float | None]
    hole_offset_mm: Mapped[float | None]
    hole_offset_mm_u95: Mapped[float | None]
    speed_at_hole_m_s: Mapped[float | None]
    speed_at_hole_m_s_u95: Mapped[float | None]
    run_out_m: Mapped[float | None]
    run_out_m_u95: Mapped[float | None]
    rest_along_m: Mapped[float | None]
    rest_along_m_u95: Mapped[float | None]
    rest_right_m: Mapped[float | None]
    rest_right_m_u95: Mapped[float | None]

    session: Mapped[Session] = relationship(back_populates="putts")


class Scorecard(Base):
    """A drill scored from the putts of a session, with the rules then in force.

    After a correction it is scored anew by the same rules, so it always says what the corrected
    putts give.
    """

    __tablename__ = "scorecards"
    __table_args__ = (UniqueConstraint("session_id", "drill", "options_text", name="uq_scorecards_drill"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    session_id: Mapped[int] = mapped_column(ForeignKey("sessions.id", ondelete="CASCADE"))
    drill: Mapped[str] = mapped_column(index=True)
    title: Mapped[str]
    options_text: Mapped[str]
    """JSON of the options in force, keys in order."""
    rules_id: Mapped[int] = mapped_column(ForeignKey("rules.id"))
    state: Mapped[str]
    counted: Mapped[int]
    made: Mapped[int]
    points: Mapped[float | None]
    restarts: Mapped[int]
    best_streak: Mapped[int]
    time_s: Mapped[float | None]
    stake: Mapped[str | None]
    """What was at stake, named before the start."""

    session: Mapped[Session] = relationship(back_populates="scorecards")
    lines: Mapped[list[ScorecardLine]] = relationship(passive_deletes=True, order_by="ScorecardLine.id")


class RulesText(Base):
    """The exact text of a drill's rules; one row for each text that was ever in force."""

    __tablename__ = "rules"

    id: Mapped[int] = mapped_column(primary_key=True)
    text_hash: Mapped[str] = mapped_column(unique=True)
    text: Mapped[str]


class ScorecardLine(Base):
    """What one counted putt did in a drill, and how it was to be played; ids rise in playing order."""

    __tablename__ = "scorecard_lines"
    __table_args__ = (Index("ix_scorecard_lines_putt", "scorecard_id", "putt", unique=True),)

    id: Mapped[int] = mapped_column(primary_key=True)
    scorecard_id: Mapped[int] = mapped_column(ForeignKey("scorecards.id", ondelete="CASCADE"))
    putt: Mapped[int]
    stage: Mapped[int]
    made: Mapped[bool]
    points: Mapped[float | None]
    restarted: Mapped[bool]
    distance_m: Mapped[float | None]
    """As the drill asks it."""
    grip: Mapped[str]
    ball: Mapped[str]
    side: Mapped[str]
    from_side: Mapped[str]
    slope: Mapped[str]
    gate_mm: Mapped[float | None]
    forfeit: Mapped[str]


class Correction(Base):
    """What a person said of a putt against what was measured: an event, never taken back, only undone."""

    __tablename__ = "corrections"
    __table_args__ = (UniqueConstraint("session_id", "version", name="uq_corrections_version"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    session_id: Mapped[int] = mapped_column(ForeignKey("sessions.id", ondelete="CASCADE"))
    version: Mapped[int]
    """1, 2, ... within the session."""
    at: Mapped[datetime]
    who: Mapped[str]
    putt: Mapped[int]
    field: Mapped[str]
    from_text: Mapped[str]
    """What it was just before, as JSON."""
    to_text: Mapped[str]
    why: Mapped[str]
    undoes: Mapped[int | None]
    """Version of the event that this one undoes."""


class Note(Base):
    """Words about a player, a session or one putt of it."""

    __tablename__ = "notes"
    __table_args__ = (
        CheckConstraint("player_id IS NOT NULL OR session_id IS NOT NULL", name="of_something"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    player_id: Mapped[int | None] = _owned("players.id")
    session_id: Mapped[int | None] = _owned("sessions.id")
    putt: Mapped[int | None]
    at: Mapped[datetime]
    who: Mapped[str]
    text: Mapped[str]


class ForfeitPaid(Base):
    """That a forfeit which a drill asked for was paid."""

    __tablename__ = "forfeits_paid"
    __table_args__ = (UniqueConstraint("scorecard_id", "putt", name="uq_forfeits_paid_putt"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    scorecard_id: Mapped[int] = mapped_column(ForeignKey("scorecards.id", ondelete="CASCADE"))
    putt: Mapped[int]
    """The putt whose miss it was for."""
    forfeit: Mapped[str]
    paid_at: Mapped[datetime]
