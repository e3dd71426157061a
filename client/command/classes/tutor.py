"""`ricalco tutor`: accounts of tutors, which are made at the service's machine only."""

from __future__ import annotations

from contextlib import closing
from typing import TYPE_CHECKING

import click

from client.command.machine.serve import DATA_DIR, settings_of

if TYPE_CHECKING:
    from pathlib import Path

    from worker.settings import Settings

_KEY_NOTICE = (
    "This key opens everything that is yours here. It is shown this once: keep it as you "
    "would a key to the studio."
)


@click.command("tutor")
@click.argument("name")
@click.option(
    "--new-key",
    is_flag=True,
    help="For a tutor who is there already: a new key; the old ones open nothing any more.",
)
@DATA_DIR
def tutor(*, name: str, new_key: bool, data_dir: Path | None) -> None:
    """Make the tutor NAME, and print their key.

    The first tutor takes over what this machine made so far; from then on the service asks
    everybody for a key.
    """
    settings = settings_of({"data_dir": data_dir})
    key = _replace_key(settings, name) if new_key else make_tutor(settings, name)
    click.echo(key)
    click.echo(_KEY_NOTICE, err=True)


def make_tutor(settings: Settings, name: str) -> str:
    """Make a tutor; returns the key.

    Raises:
        UsageError: The name is empty, or another tutor has it.
    """
    from worker.store.ledger import open_ledger, same_name

    tidy = " ".join(name.split())
    if not tidy:
        message = "A tutor needs a name."
        raise click.UsageError(message)
    with closing(open_ledger(settings)) as ledger:
        ledger.migrate()
        if any(same_name(one.name) == same_name(tidy) for one in ledger.people.tutors()):
            message = f"{tidy} is a tutor already. For a new key: ricalco tutor --new-key '{tidy}'"
            raise click.UsageError(message)
        _, issued = ledger.people.add_tutor(tidy, "first")
        return issued.key


def _replace_key(settings: Settings, name: str) -> str:
    """Withdraw all keys of a tutor and issue a new one.

    Raises:
        UsageError: No tutor has this name.
    """
    from worker.store.ledger import open_ledger, same_name

    with closing(open_ledger(settings)) as ledger:
        ledger.migrate()
        found = [one for one in ledger.people.tutors() if same_name(one.name) == same_name(name)]
        if not found:
            message = f"There is no tutor called {name}."
            raise click.UsageError(message)
        return ledger.people.issue_key(found[0].id, replace=True).key
