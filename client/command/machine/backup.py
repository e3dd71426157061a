"""`ricalco backup` and `ricalco restore`: a copy of one machine's ledger and files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.command.machine.serve import DATA_DIR, settings_of

_FOLDER = click.argument("folder", type=click.Path(path_type=Path, file_okay=False))


@click.command("backup")
@_FOLDER
@DATA_DIR
def backup(folder: Path, **options: Any) -> None:
    """Copy ledger and files into FOLDER, while the service runs.

    Into the same folder again it copies only what is new, and removes what was deleted.
    A ledger on PostgreSQL is copied with pg_dump instead.
    """
    from worker.jobs.upkeep.backup import back_up

    done = back_up(settings_of(options), folder)
    click.echo(f"Copied: the ledger and {done.copied} new photos and packs; {done.removed} gone.")


@click.command("restore")
@_FOLDER
@DATA_DIR
def restore(folder: Path, **options: Any) -> None:
    """Put a backup back from FOLDER into an empty data folder.

    What was deleted after the backup is deleted again, where the lists of deletions are there.
    """
    from worker.jobs.upkeep import backup as copies

    done = copies.restore(settings_of(options), folder)
    click.echo(
        f"Put back: the ledger, and {done.copied} photos and packs. "
        f"Deletions since then that were done again: {done.deleted_again} lists."
    )
