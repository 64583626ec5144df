"""Alembic's way in: `store.py` hands over an open connection and holds the transaction."""

from alembic import context

from puttvision.journal.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
    transactional_ddl=False,
)
context.run_migrations()
