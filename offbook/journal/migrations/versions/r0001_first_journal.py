"""The first journal: performers, pieces, drafts, run-throughs, drills.

A migration is never edited after it has shipped; it repeats the columns as they were on that day.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    _performer()
    _piece()
    _version()
    _recording()
    _run()
    _correction()
    _session()
    _answer()
    _memory()
    _doomed()


def _performer() -> None:
    op.create_table(
        "performer",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("minutes_a_day", sa.Float(), nullable=False),
        sa.Column("voice_minutes", sa.Float(), nullable=False),
        sa.Column("added_at", sa.String(27), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_performer"),
        sa.UniqueConstraint("name", name="uq_performer_name"),
    )


def _piece() -> None:
    op.create_table(
        "piece",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("performer_id", sa.String(32), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("part", sa.String(200)),
        sa.Column("limit_seconds", sa.Float()),
        sa.Column("due_day", sa.String(10)),
        sa.Column("keep_recordings", sa.Boolean(), nullable=False),
        sa.Column("added_at", sa.String(27), nullable=False),
        sa.ForeignKeyConstraint(
            ["performer_id"], ["performer.id"], name="fk_piece_performer_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_piece"),
        sa.UniqueConstraint("performer_id", "name", name="uq_piece_performer_id_name"),
    )
    op.create_index("ix_piece_performer_id", "piece", ["performer_id"])


def _version() -> None:
    op.create_table(
        "version",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("piece_id", sa.String(32), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.String(27), nullable=False),
        sa.Column("script", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("slots", sa.Text(), nullable=False),
        sa.Column("units", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name="fk_version_piece_id", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name="pk_version"),
        sa.UniqueConstraint("piece_id", "n", name="uq_version_piece_id_n"),
    )
    op.create_index("ix_version_piece_id", "version", ["piece_id"])


def _recording() -> None:
    op.create_table(
        "recording",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("piece_id", sa.String(32), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("day", sa.String(10), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("path", sa.String(400), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name="fk_recording_piece_id", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name="pk_recording"),
    )
    op.create_index("ix_recording_piece_id", "recording", ["piece_id"])


def _run() -> None:
    op.create_table(
        "run",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("piece_id", sa.String(32), nullable=False),
        sa.Column("version_id", sa.String(32), nullable=False),
        sa.Column("recording_id", sa.String(32)),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("day", sa.String(10), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("model", sa.String(200)),
        sa.Column("seconds", sa.Float(), nullable=False),
        sa.Column("speaking_seconds", sa.Float(), nullable=False),
        sa.Column("words", sa.Integer(), nullable=False),
        sa.Column("said", sa.Integer(), nullable=False),
        sa.Column("unsure", sa.Integer(), nullable=False),
        sa.Column("changed", sa.Integer(), nullable=False),
        sa.Column("dropped", sa.Integer(), nullable=False),
        sa.Column("added", sa.Integer(), nullable=False),
        sa.Column("prompts", sa.Integer(), nullable=False),
        sa.Column("letters", sa.Text(), nullable=False),
        sa.Column("heard", sa.Text(), nullable=False),
        sa.Column("times", sa.LargeBinary(), nullable=False),
        sa.Column("extras", sa.Text(), nullable=False),
        sa.Column("ratings", sa.Text(), nullable=False),
        sa.Column("predicted", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name="fk_run_piece_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["version_id"], ["version.id"], name="fk_run_version_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["recording_id"], ["recording.id"], name="fk_run_recording_id", ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_run"),
    )
    op.create_index("ix_run_piece_id_at", "run", ["piece_id", "at"])
    op.create_index(
        "ix_run_day_totals", "run", ["piece_id", "day", "words", "said", "unsure", "prompts", "seconds"]
    )


def _correction() -> None:
    op.create_table(
        "correction",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("run_id", sa.String(32), nullable=False),
        sa.Column("word", sa.Integer(), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("was", sa.String(8), nullable=False),
        sa.Column("now", sa.String(8), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name="fk_correction_run_id", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name="pk_correction"),
    )
    op.create_index("ix_correction_run_id", "correction", ["run_id"])


def _session() -> None:
    op.create_table(
        "session",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("piece_id", sa.String(32), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("day", sa.String(10), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("minutes", sa.Float(), nullable=False),
        sa.Column("ended_at", sa.String(27)),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name="fk_session_piece_id", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name="pk_session"),
    )
    op.create_index("ix_session_piece_id", "session", ["piece_id"])


def _answer() -> None:
    op.create_table(
        "answer",
        sa.Column("id", sa.String(32), nullable=False),
        sa.Column("piece_id", sa.String(32), nullable=False),
        sa.Column("version_id", sa.String(32), nullable=False),
        sa.Column("session_id", sa.String(32), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("day", sa.String(10), nullable=False),
        sa.Column("zone", sa.String(64), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("unit", sa.Integer(), nullable=False),
        sa.Column("help", sa.Integer(), nullable=False),
        sa.Column("first", sa.Integer(), nullable=False),
        sa.Column("last", sa.Integer(), nullable=False),
        sa.Column("given", sa.Text()),
        sa.Column("right", sa.Integer(), nullable=False),
        sa.Column("words", sa.Integer(), nullable=False),
        sa.Column("seconds", sa.Float(), nullable=False),
        sa.Column("pick_up", sa.Float()),
        sa.Column("spoken", sa.Boolean(), nullable=False),
        sa.Column("rating", sa.Integer(), nullable=False),
        sa.Column("predicted", sa.Float()),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name="fk_answer_piece_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["version_id"], ["version.id"], name="fk_answer_version_id", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name="fk_answer_session_id", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_answer"),
    )
    op.create_index("ix_answer_piece_id_at", "answer", ["piece_id", "at"])
    op.create_index("ix_answer_piece_id_day", "answer", ["piece_id", "day"])
    op.create_index("ix_answer_piece_id_unit", "answer", ["piece_id", "unit"])
    op.create_index("ix_answer_session_id", "answer", ["session_id"])


def _memory() -> None:
    op.create_table(
        "memory",
        sa.Column("piece_id", sa.String(32), nullable=False),
        sa.Column("unit", sa.Integer(), nullable=False),
        sa.Column("state", sa.Integer(), nullable=False),
        sa.Column("step", sa.Integer()),
        sa.Column("stability", sa.Float()),
        sa.Column("difficulty", sa.Float()),
        sa.Column("due", sa.String(27), nullable=False),
        sa.Column("last_review", sa.String(27)),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("lapses", sa.Integer(), nullable=False),
        sa.Column("help", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["piece_id"], ["piece.id"], name="fk_memory_piece_id", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("piece_id", "unit", name="pk_memory"),
    )


def _doomed() -> None:
    op.create_table(
        "doomed",
        sa.Column("path", sa.String(400), nullable=False),
        sa.PrimaryKeyConstraint("path", name="pk_doomed"),
    )
