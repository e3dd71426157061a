"""The service and the access key, for commands that need a tutor's key.

A key is never the value of an option, since everybody who lists the machine's processes could
read it.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from client.command.job import remote
from ricalco_client.api import Ricalco
from ricalco_client.values import JsonObject

KEY_VARIABLE = "RICALCO_KEY"
Decorated = TypeVar("Decorated", bound=Callable[..., Any])


def service_options(command: Decorated) -> Decorated:
    """The options of service and key; `open_service` reads them."""
    service = click.option(
        "--service", metavar="URL", default=remote.DEFAULT_SERVICE, show_default=True, help="Where."
    )
    key_file = click.option(
        "--key-file",
        type=click.Path(exists=True, dir_okay=False, path_type=Path),
        help=f"File with your key (default: the variable {KEY_VARIABLE}).",
    )
    return service(key_file(command))


def open_service(options: dict[str, Any]) -> Ricalco:
    """A client of the service with the given key.

    Raises:
        UsageError: No key is given.
    """
    path = options["key_file"]
    key = (path.read_text(encoding="utf-8") if path else os.environ.get(KEY_VARIABLE, "")).strip()
    if not key:
        message = f"This needs a tutor's key: set {KEY_VARIABLE}, or give --key-file."
        raise click.UsageError(message)
    return Ricalco(options["service"], key=key)


def find_class(ricalco: Ricalco, name_or_id: str) -> JsonObject:
    """The class of this id or name.

    Raises:
        UsageError: There is none, or several have this name.
    """
    return meant(name_or_id, ricalco.classes.every(), ("class", "classes"))


def meant(name_or_id: str, every: list[JsonObject], kind: tuple[str, str]) -> JsonObject:
    """The one of these that has this id or name.

    Args:
        name_or_id: As somebody writes it; case and spaces do not count in a name.
        every: All that there are.
        kind: What one is called, and several.

    Raises:
        UsageError: There is none, or several have this name.
    """
    wanted = " ".join(name_or_id.split()).casefold()
    found = [one for one in every if one["id"] == name_or_id or one["name"].casefold() == wanted]
    if len(found) == 1:
        return found[0]
    names = ", ".join(f"{one['name']} ({one['id']})" for one in found or every)
    problem = f"Several {kind[1]} are called" if found else f"There is no {kind[0]} called"
    message = f"{problem} {name_or_id}. There are: {names or 'none yet'}."
    raise click.UsageError(message)
