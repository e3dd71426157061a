"""What Alembic runs around the steps.

`worker.store.ledger.migrate` hands over an open transaction, so that all missing steps are
done or none is, also on SQLite, whose DDL takes part in transactions.
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
