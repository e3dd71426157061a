"""Alembic runs this module to run the migrations.

`migrate`, beside it, passes an open transaction, so that all missing migrations are done or none
is; on SQLite too DDL is part of transactions.
"""

from __future__ import annotations

from alembic import context

from worker.store.ledger.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=True,
    render_as_batch=True,
)
context.run_migrations()
