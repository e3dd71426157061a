"""Whether the ledger has all migrations of this version."""

from __future__ import annotations

from functools import cache

import sqlalchemy as sa

_STEP = sa.select(sa.column("version_num", sa.String)).select_from(sa.table("alembic_version"))


def lacks_steps(connection: sa.Connection) -> bool:
    """Whether migrations are missing.

    A ledger at a step that is not known here is a newer version's. That is as it should be while
    processes of both versions run, one after the other being replaced.
    """
    older = _known_steps()[1:]
    current = connection.execute(_STEP).scalar_one_or_none()
    return current is None or current in older


@cache
def _known_steps() -> tuple[str, ...]:
    """The steps of this version, the newest first."""
    # Alembic takes long to load, and the start of a process has loaded it.
    from alembic.script import ScriptDirectory  # noqa: PLC0415

    from worker.store.ledger.migrations.migrate import alembic_config  # noqa: PLC0415

    scripts = ScriptDirectory.from_config(alembic_config())
    return tuple(script.revision for script in scripts.walk_revisions())
