"""Run the numbered migrations on the connection that the journal hands over, in its transaction."""

from __future__ import annotations

from alembic import context

from offbook.journal.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transactional_ddl=False,  # the journal opens one transaction round all of it
    render_as_batch=True,
)
context.run_migrations()
