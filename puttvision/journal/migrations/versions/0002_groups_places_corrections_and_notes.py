"""Groups, places, corrections, notes, forfeits paid; a session keeps all that putts.json says"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "groups",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_groups"),
        sa.UniqueConstraint("name", name="uq_groups_name"),
    )
    op.create_table(
        "group_members",
        sa.Column("group_id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("joined_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["group_id"], ["groups.id"], name="fk_group_members_group_id", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name="fk_group_members_player_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("group_id", "player_id", name="pk_group_members"),
    )
    op.create_index("ix_group_members_player_id", "group_members", ["player_id"])
    op.create_table(
        "places",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("stimp_ft", sa.Double(), nullable=True),
        sa.Column("stimp_ft_u95", sa.Double(), nullable=True),
        sa.Column("slope_percent", sa.Double(), nullable=True),
        sa.Column("slope_percent_u95", sa.Double(), nullable=True),
        sa.Column("measured_on", sa.Date(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_places"),
        sa.UniqueConstraint("name", name="uq_places_name"),
    )
    # As text: SQLite takes a foreign key with a new column, Alembic's own way would copy the whole
    # table and drop the old one, and with it, through the foreign keys, every putt.
    op.execute(
        "ALTER TABLE sessions ADD COLUMN place_id INTEGER "
        "CONSTRAINT fk_sessions_place_id REFERENCES places (id) ON DELETE SET NULL"
    )
    for name, kind in (
        ("clip_width", sa.Integer()),
        ("clip_height", sa.Integer()),
        ("sheets", sa.JSON()),
        ("reprojection_rms_px", sa.Double()),
        ("hole_u_px", sa.Double()),
        ("hole_v_px", sa.Double()),
        ("warnings", sa.JSON()),
    ):
        op.add_column("sessions", sa.Column(name, kind, nullable=True))
    op.add_column("scorecards", sa.Column("stake", sa.String(), nullable=True))
    op.create_table(
        "corrections",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("putt", sa.Integer(), nullable=False),
        sa.Column("field", sa.String(), nullable=False),
        sa.Column("from_text", sa.String(), nullable=False),
        sa.Column("to_text", sa.String(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("undoes", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["session_id"], ["sessions.id"], name="fk_corrections_session_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_corrections"),
        sa.UniqueConstraint("session_id", "version", name="uq_corrections_version"),
    )
    op.create_table(
        "notes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=True),
        sa.Column("session_id", sa.Integer(), nullable=True),
        sa.Column("putt", sa.Integer(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.CheckConstraint(
            "player_id IS NOT NULL OR session_id IS NOT NULL", name=op.f("ck_notes_of_something")
        ),
        sa.ForeignKeyConstraint(["player_id"], ["players.id"], name="fk_notes_player_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["session_id"], ["sessions.id"], name="fk_notes_session_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_notes"),
    )
    op.create_index("ix_notes_player_id", "notes", ["player_id"])
    op.create_index("ix_notes_session_id", "notes", ["session_id"])
    op.create_table(
        "forfeits_paid",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("scorecard_id", sa.Integer(), nullable=False),
        sa.Column("putt", sa.Integer(), nullable=False),
        sa.Column("forfeit", sa.String(), nullable=False),
        sa.Column("paid_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["scorecard_id"], ["scorecards.id"], name="fk_forfeits_paid_scorecard_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_forfeits_paid"),
        sa.UniqueConstraint("scorecard_id", "putt", name="uq_forfeits_paid_putt"),
    )
