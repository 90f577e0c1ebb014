"""Run by Alembic: migrate over the connection it is handed, inside the transaction that is open on it."""

from alembic import context

from beadwright.shop.models import Table

context.configure(connection=context.config.attributes["connection"], target_metadata=Table.metadata)
with context.begin_transaction():
    context.run_migrations()
