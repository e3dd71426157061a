"""`python -m tests.bench ledger sqlite|postgresql [packs]`: a table of the ledger's calls."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from tests.bench.at_size.filling import Size, fill
from tests.bench.at_size.measures import HEAD, Bench
from tests.bench.at_size.plans import sizes
from tests.servers.postgresql import PostgresServer
from worker.store.ledger import Ledger


def report(words: Sequence[str]) -> None:
    """Fill a ledger and print the table.

    Args:
        words: The database; how many packs, if not a million.
    """
    packs = int(words[1]) if words[1:] else Size.packs
    size = Size(packs=packs, people=packs // 10, queued=packs // 100)
    if words[0] == "postgresql":
        server = PostgresServer()
        try:
            _report(server.new_database(), size)
        finally:
            server.end()
    else:
        with tempfile.TemporaryDirectory() as folder:
            _report(f"sqlite:///{Path(folder) / 'ledger.db'}", size)


def _report(url: str, size: Size) -> None:
    ledger = Ledger.open(url)
    ledger.migrate()
    start = time.perf_counter()
    district = fill(ledger._database.engine, size)
    took_s = time.perf_counter() - start
    rows = sizes(ledger._database.engine)
    large = ", ".join(f"{count:,} {name}" for name, count in rows.items() if count)
    print(f"\nThe ledger at size, {ledger._database.engine.dialect.name}: {large}")
    print(f"  filled in {took_s:.0f} s\n{HEAD}")
    for measure in Bench(ledger, district, rows).all():
        print(measure.line(), flush=True)
    ledger.close()
