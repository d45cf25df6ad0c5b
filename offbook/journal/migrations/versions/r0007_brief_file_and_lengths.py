"""The file that a brief came from, and how long each draft is, so that a list need not read the scripts."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_LENGTH = "CASE WHEN json_valid({0}) THEN json_array_length({0}) END"


def upgrade() -> None:
    """Add the file's name; make the index on SQLite alone: a server keeps long texts apart."""
    op.add_column("brief", sa.Column("file", sa.Text()))
    if op.get_bind().dialect.name == "sqlite":
        lengths = ", ".join(_LENGTH.format(column) for column in ("slots", "units"))
        op.execute(f"CREATE INDEX ix_version_lengths ON version (piece_id, n, {lengths})")
