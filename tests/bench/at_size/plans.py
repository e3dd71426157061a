"""How the database carries statements out: which tables it reads from end to end.

The sources: "EXPLAIN QUERY PLAN" of SQLite (SCAN is a whole table or index, SEARCH a part) and
PostgreSQL's "Using EXPLAIN" (14.1; Seq Scan). A statement within COALESCE may be planned and yet
never run, and what foreign keys do is not told, so this is a place to look, not a verdict.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event

from worker.store.ledger.tables import METADATA

#: Tables of fewer rows are read whole with good reason.
SMALL = 1000
_EXPLAINED = ("SELECT", "UPDATE", "DELETE", "WITH", "INSERT")


class Statements:
    """Statements that were run, each once, with the parameters of its first run."""

    def __init__(self) -> None:
        self.seen: dict[str, Any] = {}
        self.count = 0

    @contextmanager
    def watched(self, engine: sa.Engine) -> Iterator[None]:
        """Note what runs within."""

        def note(*args: Any) -> None:
            _, _, statement, parameters, _, many = args
            self.count += 1
            if statement.lstrip().upper().startswith(_EXPLAINED) and not many:
                self.seen.setdefault(statement, parameters)

        event.listen(engine, "before_cursor_execute", note)
        try:
            yield
        finally:
            event.remove(engine, "before_cursor_execute", note)


def sizes(engine: sa.Engine) -> dict[str, int]:
    """How many rows each table has."""
    with engine.connect() as connection:
        return {
            name: connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
            for name, table in METADATA.tables.items()
        }


def whole_tables(engine: sa.Engine, statements: Statements, rows: dict[str, int]) -> list[str]:
    """The large tables that a statement reads from end to end, `(index)` where an index is."""
    found: set[str] = set()
    with engine.connect() as connection:
        for statement, parameters in statements.seen.items():
            if engine.dialect.name == "sqlite":
                steps = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)
                found |= {name for step in steps for name in _scanned(str(step[3]))}
            else:
                plan = connection.exec_driver_sql(f"EXPLAIN (FORMAT JSON) {statement}", parameters)
                told = plan.scalar_one()
                told = json.loads(told) if isinstance(told, str) else told
                found |= set(_sequential(told[0]["Plan"]))
    return sorted(one for one in found if rows.get(one.removesuffix(" (index)"), 0) > SMALL)


def _scanned(step: str) -> Iterator[str]:
    # What has no table's name is a result of another step.
    named = re.match(r"SCAN (\w+)(?: USING (COVERING )?INDEX)?", step)
    if named and named[1] in METADATA.tables:
        yield named[1] + (" (index)" if "INDEX" in step else "")


def _sequential(node: dict[str, Any]) -> Iterator[str]:
    if node["Node Type"] == "Seq Scan":
        yield node["Relation Name"]
    # An index without a condition is read whole, unless a LIMIT above it stops that.
    if node["Node Type"] == "Index Only Scan" and "Index Cond" not in node:
        yield f"{node['Relation Name']} (index)"
    for below in node.get("Plans", []):
        yield from _sequential(below)
