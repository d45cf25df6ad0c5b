"""Timed readings, from which a performer's own pace is calibrated.

They belong to the performer, not to a piece: any text read aloud tells something about pace.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    _reading()


def _reading() -> None:
    op.create_table(
        "reading",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("performer_id", sa.String(32), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("day", sa.String(10), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("title", sa.String(200), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("seconds", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(
            ["performer_id"], ["performer.id"], name="fk_reading_performer_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_reading"),
    )
    op.create_index("ix_reading_performer_id", "reading", ["performer_id"])
