"""The history that a job brings along when it comes from an archive."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "earlier_history",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("job_id", sa.String(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_earlier_history"),
        sa.CheckConstraint("length(digest) = 64", name="ck_earlier_history_digest"),
        sa.CheckConstraint("length(data) = size", name="ck_earlier_history_size"),
    )
    op.create_index("ix_earlier_history_job_id", "earlier_history", ["job_id"], unique=False)
