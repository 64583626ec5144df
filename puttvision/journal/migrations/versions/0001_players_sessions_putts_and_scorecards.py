"""Players, sessions, putts and scorecards"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "players",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("hand", sa.String(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("consent_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_players")),
        sa.UniqueConstraint("name", name=op.f("uq_players_name")),
    )
    op.create_table(
        "rules",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("text_hash", sa.String(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rules")),
        sa.UniqueConstraint("text_hash", name=op.f("uq_rules_text_hash")),
    )
    op.create_table(
        "sessions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("player_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("sheet_hash", sa.String(), nullable=False),
        sa.Column("clip_hash", sa.String(), nullable=True),
        sa.Column("clip_file", sa.String(), nullable=True),
        sa.Column("clip_path", sa.String(), nullable=True),
        sa.Column("clip_duration_s", sa.Double(), nullable=True),
        sa.Column("clip_frames", sa.Integer(), nullable=True),
        sa.Column("stimp_ft", sa.Double(), nullable=True),
        sa.Column("stimp_ft_u95", sa.Double(), nullable=True),
        sa.Column("gate_distance_m", sa.Double(), nullable=True),
        sa.Column("gate_distance_m_u95", sa.Double(), nullable=True),
        sa.Column("gate_width_mm", sa.Double(), nullable=True),
        sa.Column("gate_width_mm_u95", sa.Double(), nullable=True),
        sa.Column("gate_square_deg", sa.Double(), nullable=True),
        sa.Column("gate_square_deg_u95", sa.Double(), nullable=True),
        sa.Column("note", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["player_id"], ["players.id"], name=op.f("fk_sessions_player_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sessions")),
        sa.UniqueConstraint("player_id", "clip_hash", name="uq_sessions_clip"),
        sa.UniqueConstraint("player_id", "sheet_hash", name="uq_sessions_sheet"),
    )
    with op.batch_alter_table("sessions", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sessions_player_id"), ["player_id"], unique=False)

    op.create_table(
        "putts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("gate_result", sa.String(), nullable=False),
        sa.Column("lipped", sa.Boolean(), nullable=False),
        sa.Column("miss_side", sa.String(), nullable=True),
        sa.Column("miss_length", sa.String(), nullable=True),
        sa.Column("confidence", sa.Double(), nullable=True),
        sa.Column("review", sa.JSON(), nullable=True),
        sa.Column("start_s", sa.Double(), nullable=True),
        sa.Column("start_s_u95", sa.Double(), nullable=True),
        sa.Column("hole_distance_m", sa.Double(), nullable=True),
        sa.Column("hole_distance_m_u95", sa.Double(), nullable=True),
        sa.Column("start_direction_to_hole_deg", sa.Double(), nullable=True),
        sa.Column("start_direction_to_hole_deg_u95", sa.Double(), nullable=True),
        sa.Column("start_direction_to_gate_deg", sa.Double(), nullable=True),
        sa.Column("start_direction_to_gate_deg_u95", sa.Double(), nullable=True),
        sa.Column("launch_speed_m_s", sa.Double(), nullable=True),
        sa.Column("launch_speed_m_s_u95", sa.Double(), nullable=True),
        sa.Column("gate_offset_mm", sa.Double(), nullable=True),
        sa.Column("gate_offset_mm_u95", sa.Double(), nullable=True),
        sa.Column("hole_offset_mm", sa.Double(), nullable=True),
        sa.Column("hole_offset_mm_u95", sa.Double(), nullable=True),
        sa.Column("speed_at_hole_m_s", sa.Double(), nullable=True),
        sa.Column("speed_at_hole_m_s_u95", sa.Double(), nullable=True),
        sa.Column("run_out_m", sa.Double(), nullable=True),
        sa.Column("run_out_m_u95", sa.Double(), nullable=True),
        sa.Column("rest_along_m", sa.Double(), nullable=True),
        sa.Column("rest_along_m_u95", sa.Double(), nullable=True),
        sa.Column("rest_right_m", sa.Double(), nullable=True),
        sa.Column("rest_right_m_u95", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(
            ["session_id"], ["sessions.id"], name=op.f("fk_putts_session_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_putts")),
        sa.UniqueConstraint("session_id", "number", name="uq_putts_number"),
    )
    op.create_table(
        "scorecards",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("drill", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("options_text", sa.String(), nullable=False),
        sa.Column("rules_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("counted", sa.Integer(), nullable=False),
        sa.Column("made", sa.Integer(), nullable=False),
        sa.Column("points", sa.Double(), nullable=True),
        sa.Column("restarts", sa.Integer(), nullable=False),
        sa.Column("best_streak", sa.Integer(), nullable=False),
        sa.Column("time_s", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(["rules_id"], ["rules.id"], name=op.f("fk_scorecards_rules_id")),
        sa.ForeignKeyConstraint(
            ["session_id"], ["sessions.id"], name=op.f("fk_scorecards_session_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_scorecards")),
        sa.UniqueConstraint("session_id", "drill", "options_text", name="uq_scorecards_drill"),
    )
    with op.batch_alter_table("scorecards", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_scorecards_drill"), ["drill"], unique=False)

    op.create_table(
        "scorecard_lines",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("scorecard_id", sa.Integer(), nullable=False),
        sa.Column("putt", sa.Integer(), nullable=False),
        sa.Column("stage", sa.Integer(), nullable=False),
        sa.Column("made", sa.Boolean(), nullable=False),
        sa.Column("points", sa.Double(), nullable=True),
        sa.Column("restarted", sa.Boolean(), nullable=False),
        sa.Column("distance_m", sa.Double(), nullable=True),
        sa.Column("grip", sa.String(), nullable=False),
        sa.Column("ball", sa.String(), nullable=False),
        sa.Column("side", sa.String(), nullable=False),
        sa.Column("from_side", sa.String(), nullable=False),
        sa.Column("slope", sa.String(), nullable=False),
        sa.Column("gate_mm", sa.Double(), nullable=True),
        sa.Column("forfeit", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["scorecard_id"],
            ["scorecards.id"],
            name=op.f("fk_scorecard_lines_scorecard_id"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_scorecard_lines")),
    )
    with op.batch_alter_table("scorecard_lines", schema=None) as batch_op:
        batch_op.create_index("ix_scorecard_lines_putt", ["scorecard_id", "putt"], unique=True)
