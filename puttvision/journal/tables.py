"""The tables of the journal.

Units stand in the column names, as in putts.json; every measured figure has a ``..._u95`` beside
it (half-width of its 95 % interval). Times are UTC. What was measured is never overwritten.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, ForeignKey, Index, MetaData, UniqueConstraint
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
        }
    )
    type_annotation_map = {datetime: UtcTime, dict[str, Any]: JSON, list[str]: JSON}  # noqa: RUF012


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

    sessions: Mapped[list[Session]] = relationship(back_populates="player", passive_deletes=True)


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

    player: Mapped[Player] = relationship(back_populates="sessions")
    putts: Mapped[list[PuttRow]] = relationship(
        back_populates="session", passive_deletes=True, order_by="PuttRow.number"
    )
    scorecards: Mapped[list[Scorecard]] = relationship(
        back_populates="session", passive_deletes=True, order_by="Scorecard.id"
    )


class PuttRow(Base):
    """A putt as it was measured or entered."""

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
    """A drill scored from the putts of a session, with the rules then in force."""

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

    session: Mapped[Session] = relationship(back_populates="scorecards")
    lines: Mapped[list[ScorecardLine]] = relationship(passive_deletes=True, order_by="ScorecardLine.putt")


class RulesText(Base):
    """The exact text of a drill's rules; one row for each text that was ever in force."""

    __tablename__ = "rules"

    id: Mapped[int] = mapped_column(primary_key=True)
    text_hash: Mapped[str] = mapped_column(unique=True)
    text: Mapped[str]


class ScorecardLine(Base):
    """What one counted putt did in a drill, and how it was to be played."""

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
