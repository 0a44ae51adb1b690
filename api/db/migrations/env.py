"""Runs the migrations on the connection that the upgrade hands over."""

from __future__ import annotations

from alembic import context

from api.db.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,  # SQLite changes a table by making it anew
    transactional_ddl=True,  # SQLite too, as the engine begins transactions itself
)
with context.begin_transaction():
    context.run_migrations()
