"""How long each draft is, in an index, so that a list of all pieces need not read their scripts."""

from __future__ import annotations

from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_LENGTH = "CASE WHEN json_valid({0}) THEN json_array_length({0}) END"


def upgrade() -> None:
    """Make the index on SQLite, where a row is read from its beginning; a server keeps long texts apart."""
    if op.get_bind().dialect.name == "sqlite":
        lengths = ", ".join(_LENGTH.format(column) for column in ("slots", "units"))
        op.execute(f"CREATE INDEX ix_version_lengths ON version (piece_id, n, {lengths})")
