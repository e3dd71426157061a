"""Which service is meant, and the key that opens it, for commands that need a tutor's.

A key is never an option's value: whoever lists a machine's processes would read it.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from client.api import Ricalco
from client.command.job import remote
from client.values import JsonObject

KEY = "RICALCO_KEY"
Decorated = TypeVar("Decorated", bound=Callable[..., Any])


def service_options(command: Decorated) -> Decorated:
    """The options that say where and as whom; `open_service` reads them."""
    where = click.option(
        "--service", metavar="URL", default=remote.USUAL_SERVICE, show_default=True, help="Where."
    )
    whose = click.option(
        "--key-file",
        type=click.Path(exists=True, dir_okay=False, path_type=Path),
        help=f"File with your key (default: the variable {KEY}).",
    )
    return where(whose(command))


def open_service(said: dict[str, Any]) -> Ricalco:
    """The service, asked with the key that was given.

    Raises:
        UsageError: None was.
    """
    path = said["key_file"]
    key = (path.read_text(encoding="utf-8") if path else os.environ.get(KEY, "")).strip()
    if not key:
        message = f"This needs a tutor's key: set {KEY}, or give --key-file."
        raise click.UsageError(message)
    return Ricalco(said["service"], key=key)


def class_called(ricalco: Ricalco, called: str) -> JsonObject:
    """The class of this id or name.

    Raises:
        UsageError: There is none, or several are called so.
    """
    classes = ricalco.classes.every()
    wanted = " ".join(called.split()).casefold()
    found = [one for one in classes if one["id"] == called or one["name"].casefold() == wanted]
    if len(found) == 1:
        return found[0]
    names = ", ".join(f"{one['name']} ({one['id']})" for one in found or classes)
    told = "Several classes are called" if found else "There is no class called"
    message = f"{told} {called}. There are: {names or 'none yet'}."
    raise click.UsageError(message)
