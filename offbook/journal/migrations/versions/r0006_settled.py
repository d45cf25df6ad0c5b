"""When each value that a person settles was last changed, so that an import can take the later one."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns; what was changed before has nothing in them, and counts as it was when it came in."""
    for table in ("performer", "piece", "brief", "take", "margin_note", "parcel"):
        op.add_column(table, sa.Column("settled", sa.Text()))
