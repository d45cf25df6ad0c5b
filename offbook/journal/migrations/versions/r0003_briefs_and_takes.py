"""Briefs, what whoever receives a recording asks for, and takes, the recordings meant to be sent."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    _brief()
    _take()


def _brief() -> None:
    op.create_table(
        "brief",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("performer_id", sa.String(32), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("deadline", sa.String(27), nullable=False),
        sa.Column("added_at", sa.String(27), nullable=False),
        sa.Column("sent_at", sa.String(27)),
        sa.ForeignKeyConstraint(
            ["performer_id"], ["performer.id"], name="fk_brief_performer_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_brief"),
        sa.UniqueConstraint("performer_id", "name", name="uq_brief_performer_id_name"),
    )
    op.create_index("ix_brief_performer_id", "brief", ["performer_id"])


def _take() -> None:
    op.create_table(
        "take",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("piece_id", sa.String(32), nullable=False),
        sa.Column("recording_id", sa.String(32)),
        sa.Column("run_id", sa.String(32)),
        sa.Column("brief_id", sa.String(32)),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("day", sa.String(10), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("intention", sa.Text(), nullable=False),
        sa.Column("file", sa.Text(), nullable=False),
        sa.Column("checks", sa.Text()),
        sa.Column("chosen", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name="fk_take_piece_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["recording_id"], ["recording.id"], name="fk_take_recording_id", ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_take_run_id", ondelete="SET NULL"),
        sa.ForeignKeyConstraint(["brief_id"], ["brief.id"], name="fk_take_brief_id", ondelete="SET NULL"),
        sa.PrimaryKeyConstraint("id", name="pk_take"),
        sa.UniqueConstraint("piece_id", "n", name="uq_take_piece_id_n"),
    )
