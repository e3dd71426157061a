"""Counts that limits go by, shared by all web processes of a service.

With a Redis they are there, for all machines; else in a small file of the data folder, for all
processes of this machine, which is then the only one. They are no part of the ledger: addresses
and wrong codes are personal, and neither belongs into backups. Where neither can be reached, each
process counts alone until it can: nobody is refused because of that.
"""

from __future__ import annotations

from service.runtime.limits.tallies.file_tallies import FileTallies
from service.runtime.limits.tallies.guarded import GuardedTallies
from service.runtime.limits.tallies.protocol import MemoryTallies, Name, Tallies, Tally, left
from worker.settings import Settings

__all__ = ["MemoryTallies", "Name", "Tallies", "Tally", "left", "open_tallies"]


def open_tallies(settings: Settings) -> Tallies:
    """The counts of these settings; nothing is connected to yet."""
    if settings.broker_url.startswith(("redis:", "rediss:", "unix:")):
        # Only a service on many machines loads the library.
        from service.runtime.limits.tallies.redis_tallies import RedisTallies  # noqa: PLC0415

        return GuardedTallies(RedisTallies(settings.broker_url))
    return GuardedTallies(FileTallies(settings.data_dir / "limits.db"))
