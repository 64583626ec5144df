"""Codes for the notice board, in place of names"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    op.add_column("players", sa.Column("board_code", sa.String(), nullable=True))
    op.create_index("ix_players_board_code", "players", ["board_code"], unique=True)
