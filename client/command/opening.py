"""`ricalco open`: the service for everyone in the studio, for the length of a lesson."""

from __future__ import annotations

import sys
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from client.command.serve import DATA_DIR, settings_of
from client.command.tutor import make_tutor

if TYPE_CHECKING:
    from worker.settings import Settings

#: Every network that this machine is in; the guard and the keys keep strangers out.
_EVERYWHERE = "0.0.0.0"  # noqa: S104 -- It is what the command is for, and it says so.
_MEANS = """\
What this means: every device on this network can reach Ricalco until you press Ctrl-C.
Nobody reads a photo or a pack without a key: yours, or the one a student's device gets
by joining with your class code. What is sent is not encrypted on its way, so open it on
a network that you trust, and close it after the lesson. Nothing goes to other places.
"""


@click.command("open")
@click.option("--port", type=click.IntRange(1, 65535), help="Port (default: 8640).")
@DATA_DIR
def open_(**said: Any) -> None:
    """Open the service to the studio's network for a lesson; Ctrl-C closes it.

    It asks for a tutor first, and prints the address, with a QR code, that everyone in the
    room can open.
    """
    from client.web import FOLDER
    from service.supervisor import address, supervise

    settings = settings_of({**said, "host": _EVERYWHERE})
    settings = replace(settings, page_dir=settings.page_dir or FOLDER)
    _have_tutor(settings)
    place = address(settings)
    click.echo(f"\n{_MEANS}\nIn this room: {place}\n")
    _draw(place)
    raise SystemExit(supervise(settings))


def _have_tutor(settings: Settings) -> None:
    """See that there is a tutor; ask for one where there is none.

    Raises:
        UsageError: There is none, and nobody to ask.
    """
    from worker.ledger import open_ledger

    with closing(open_ledger(settings)) as ledger:
        ledger.migrate()
        if ledger.people.tutor_exists():
            return
    if not sys.stdin.isatty():
        message = "There is no tutor yet. Make one first: ricalco tutor NAME"
        raise click.UsageError(message)
    name = click.prompt("A class needs a tutor. Your name")
    click.echo(f"\nYour key, shown this once: {make_tutor(settings, name)}")


def _draw(place: str) -> None:
    """A QR code of half blocks, where the terminal can show them."""
    import segno

    try:
        "█▀▄".encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return
    segno.make(place, error="m", micro=False).terminal(compact=True, border=2)
