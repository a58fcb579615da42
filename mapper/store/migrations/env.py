"""Runs migrations on the connection, and inside the transaction, that `mapper.store.migrate` began.

Migrations spell out every name themselves and import nothing of `tables.py`, which moves on.
"""

from __future__ import annotations

from alembic import context

# The caller's transaction is the one: migrations and their record stand or fall together.
context.configure(
    connection=context.config.attributes["connection"],
    render_as_batch=True,
    transactional_ddl=False,
)
context.run_migrations()
