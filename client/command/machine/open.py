"""`ricalco open`: the service for everyone in the studio, for the length of a lesson."""

from __future__ import annotations

import ipaddress
import socket
import sys
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from client.command.classes.tutor import make_tutor
from client.command.machine.serve import DATA_DIR, settings_of

if TYPE_CHECKING:
    from worker.settings import Settings

#: Every network that this machine is in; the guard and the keys keep strangers out.
_EVERYWHERE = "0.0.0.0"  # noqa: S104 -- It is what the command is for, and it says so.
_MEANS = """\
What this means: every device on {networks} can reach Ricalco until you press Ctrl-C.
Nobody reads a photo or a pack without a key: yours, or the one a student's device gets
by joining with your class code. What is sent is not encrypted on its way, so open it on
a network that you trust, and close it after the lesson. Nothing goes to other places.
"""


#: What an address would be good for that no phone can open.
_ALONE = (
    "This machine is in no network, so no phone could reach it. Join the studio's Wi-Fi, plug a "
    "cable in, or turn on a phone's hotspot and join that; then open again. If it is in a network "
    "all the same, say this machine's address there: ricalco open --address ADDRESS. To work at "
    "this machine alone: ricalco serve"
)


@click.command("open")
@click.option(
    "--address",
    metavar="ADDRESS",
    help="Listen on this address of the machine alone (default: on every network it is in).",
)
@click.option("--port", type=click.IntRange(1, 65535), help="Port (default: 8640).")
@DATA_DIR
def open_(address: str | None, **said: Any) -> None:
    """Open the service to the studio's network for a lesson; Ctrl-C closes it.

    It asks for a tutor first, and prints the address, with a QR code, that everyone in the
    room can open.
    """
    from client.web import FOLDER
    from service.http.lan_addresses import lan_address
    from service.supervisor import supervise
    from worker.errors import NoNetwork

    host = _EVERYWHERE if address is None else _own(address)
    settings = settings_of({**said, "host": host})
    settings = replace(settings, page_dir=settings.page_dir or FOLDER)
    if address is None and lan_address() is None:
        raise NoNetwork(_ALONE)
    _have_tutor(settings)
    place = supervise.address(settings)
    networks = "every network of this machine" if address is None else f"the network of {address}"
    click.echo(f"\n{_MEANS.format(networks=networks)}\nIn this room: {place}\n")
    _draw(place)
    raise SystemExit(supervise.supervise(settings))


def _own(address: str) -> str:
    """One of this machine's addresses that others can reach.

    Raises:
        UsageError: It is no address, or this machine's for itself, or another machine's.
    """
    from service.http.host_guard import is_address, is_loopback
    from service.http.lan_addresses import lan_address

    host = address.strip("[]")
    found = lan_address()
    here = f" Its address on the network is {found}." if found else ""
    if not is_address(host) or ipaddress.ip_address(host).is_unspecified:
        message = f"--address {address} is no address of one network: write it in figures.{here}"
        raise click.UsageError(message)
    if is_loopback(host):
        message = f"--address {address} is for this machine alone: that is ricalco serve.{here}"
        raise click.UsageError(message)
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as tried:
        try:
            tried.bind((host, 0))
        except OSError:
            message = f"--address {address} is no address of this machine.{here}"
            raise click.UsageError(message) from None
    return host


def _have_tutor(settings: Settings) -> None:
    """See that there is a tutor; ask for one where there is none.

    Raises:
        UsageError: There is none, and nobody to ask.
    """
    from worker.store.ledger import open_ledger

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
