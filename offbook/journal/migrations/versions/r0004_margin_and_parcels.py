"""Notes in the margin, a coach's words beside a line, and parcels, what was sent where."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    _margin_note()
    _parcel()


def _margin_note() -> None:
    op.create_table(
        "margin_note",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("piece_id", sa.String(32), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("day", sa.String(10), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("slot", sa.Integer(), nullable=False),
        sa.Column("quote", sa.Text(), nullable=False),
        sa.Column("take", sa.Integer()),
        sa.Column("author", sa.String(200), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("done_at", sa.String(27)),
        sa.ForeignKeyConstraint(
            ["piece_id"], ["piece.id"], name="fk_margin_note_piece_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_margin_note"),
        sa.UniqueConstraint("piece_id", "n", name="uq_margin_note_piece_id_n"),
    )


def _parcel() -> None:
    op.create_table(
        "parcel",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("brief_id", sa.String(32), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("day", sa.String(10), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("folder", sa.Text(), nullable=False),
        sa.Column("files", sa.Text(), nullable=False),
        sa.Column("sent_at", sa.String(27)),
        sa.Column("sent_to", sa.Text(), nullable=False),
        sa.Column("confirm_by", sa.String(10)),
        sa.Column("confirmed_at", sa.String(27)),
        sa.Column("confirmation", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["brief_id"], ["brief.id"], name="fk_parcel_brief_id", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name="pk_parcel"),
    )
    op.create_index("ix_parcel_brief_id", "parcel", ["brief_id"])
