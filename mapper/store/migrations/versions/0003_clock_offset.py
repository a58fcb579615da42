"""How far a device's clock was off when it recorded a change."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # No rows are rewritten: nobody compared the clocks of what is there, and its hashes hold.
    op.add_column("history", sa.Column("clock_offset_ms", sa.Integer(), nullable=True))
    op.create_index("ix_history_clock_offset_ms", "history", ["clock_offset_ms"], unique=False)
