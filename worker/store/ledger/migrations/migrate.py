"""Run missing migrations at the start of a process.

Web and worker start at the same time and both call this. The first one runs all migrations in
one transaction while the other waits: on SQLite for the write lock, on PostgreSQL for an
advisory lock.

Making an index locks its table against writers, for minutes where it has a million rows. So on
PostgreSQL the indexes of a step are made before its transaction, by CREATE INDEX CONCURRENTLY,
while processes of the version before go on. That cannot be part of a transaction, and waits for
all that are open; so nobody waits for the lock within one.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from worker.errors import LedgerUnavailable
from worker.store.ledger.database.database import Database

#: Any number that no other program uses in the same database.
_ADVISORY_LOCK = 5_260_117
_TRY_EVERY_S = 0.1


def migrate(database: Database) -> None:
    """Run the migrations that are missing.

    Raises:
        LedgerUnavailable: The ledger was made by a newer version.
    """
    config = alembic_config()
    with _alone(database) as beside:
        if beside is not None:
            _build_indexes(database, config, beside)
        _upgrade(database, config, "head")


def alembic_config() -> Config:
    """Alembic's configuration without a file: the migrations are part of the package."""
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent))
    return config


@contextmanager
def _alone(database: Database) -> Iterator[sa.Connection | None]:
    """Hold PostgreSQL's lock; gives a connection without transactions, on SQLite None."""
    if database.sqlite:
        yield None
        return
    with database.outside() as beside:
        taken = sa.select(sa.func.pg_try_advisory_lock(_ADVISORY_LOCK))
        while not beside.execute(taken).scalar_one():
            time.sleep(_TRY_EVERY_S)
        try:
            yield beside
        finally:
            beside.execute(sa.select(sa.func.pg_advisory_unlock(_ADVISORY_LOCK)))


def _upgrade(database: Database, config: Config, to: str) -> None:
    with database.writing() as connection:
        if _current(config, connection) == ScriptDirectory.from_config(config).get_current_head():
            return
        config.attributes["connection"] = connection
        command.upgrade(config, to)


def _build_indexes(database: Database, config: Config, beside: sa.Connection) -> None:
    """Make the indexes of missing steps that say so, in a ledger that has tables already."""
    current = _current(config, beside)
    scripts = ScriptDirectory.from_config(config)
    missing = list(scripts.iterate_revisions("head", current)) if current else []
    for step in reversed(missing):
        new: dict[str, str] = getattr(step.module, "NEW", {})
        if not new:
            continue
        # Its tables are as after the step before it.
        if step.down_revision != _current(config, beside):
            _upgrade(database, config, str(step.down_revision))
        for name, columns in new.items():
            _build(beside, name, columns)
        for name in step.module.OLD:
            beside.exec_driver_sql(f"DROP INDEX CONCURRENTLY IF EXISTS {name}")


def _build(beside: sa.Connection, name: str, columns: str) -> None:
    """Make one; what an earlier attempt left, that was broken off, cannot be used."""
    broken = "SELECT 1 FROM pg_index WHERE indexrelid = to_regclass(%s) AND NOT indisvalid"
    if beside.exec_driver_sql(broken, (name,)).one_or_none() is not None:
        beside.exec_driver_sql(f"DROP INDEX CONCURRENTLY {name}")
    beside.exec_driver_sql(f"CREATE INDEX CONCURRENTLY IF NOT EXISTS {name} ON {columns}")


def _current(config: Config, connection: sa.Connection) -> Any:
    """The step that the ledger is at; None: it is new.

    Raises:
        LedgerUnavailable: The step is not known, so a newer version made it.
    """
    scripts = ScriptDirectory.from_config(config)
    current = MigrationContext.configure(connection).get_current_revision()
    known = {script.revision for script in scripts.walk_revisions()}
    if current is not None and current not in known:
        message = f"The ledger is at step {current}, which this version does not know: update."
        raise LedgerUnavailable(message)
    return current
