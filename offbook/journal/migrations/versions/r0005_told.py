"""What the partner did in a run-through, and why each doubtful word was judged as it was."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; run-throughs from before have nothing in it."""
    op.add_column("run", sa.Column("told", sa.Text()))
