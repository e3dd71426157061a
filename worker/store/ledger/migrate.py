"""Run missing migrations at the start of a process.

Web and worker start at the same time and both call this. The first one runs all migrations in
one transaction while the other waits: on SQLite for the write lock, on PostgreSQL for an
advisory lock.
"""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from worker.errors import LedgerUnavailable
from worker.store.ledger.database import Database

#: Any number that no other program uses in the same database.
_ADVISORY_LOCK = 5_260_117


def migrate(database: Database) -> None:
    """Run the migrations that are missing.

    Raises:
        LedgerUnavailable: The ledger was made by a newer version.
    """
    config = alembic_config()
    with database.writing() as connection:
        if not database.sqlite:
            connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_ADVISORY_LOCK)))
        if _is_newest(config, connection):
            return
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def alembic_config() -> Config:
    """Alembic's configuration without a file: the migrations are part of the package."""
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    return config


def _is_newest(config: Config, connection: sa.Connection) -> bool:
    """Whether the ledger is at the newest step.

    Raises:
        LedgerUnavailable: Its step is not known, so a newer version made it.
    """
    scripts = ScriptDirectory.from_config(config)
    current = MigrationContext.configure(connection).get_current_revision()
    known = {script.revision for script in scripts.walk_revisions()}
    if current is not None and current not in known:
        message = f"The ledger is at step {current}, which this version does not know: update."
        raise LedgerUnavailable(message)
    return current == scripts.get_current_head()
