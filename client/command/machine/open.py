"""`ricalco open`: the service on the local network, for the length of a lesson."""

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

#: Listen on every network interface; the host guard and the access keys keep strangers out.
_ALL_INTERFACES = "0.0.0.0"  # noqa: S104 -- Listening on all interfaces is the purpose of the command.
_NOTICE = """\
What this means: every device on {networks} can reach Ricalco until you press Ctrl-C.
Nobody reads a photo or a pack without a key: yours, or the one a student's device gets
by joining with your class code. What is sent is not encrypted on its way, so open it on
a network that you trust, and close it after the lesson. Nothing goes to other places.
"""


#: Shown when the machine has no address that a phone can reach.
_NO_NETWORK = (
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
def open_(address: str | None, **options: Any) -> None:
    """Open the service to the studio's network for a lesson; Ctrl-C closes it.

    It asks for a tutor first, and prints the address, with a QR code, that everyone in the
    room can open.
    """
    from client.web import FOLDER
    from service.http.requests.lan_addresses import lan_address
    from service.supervisor import supervise
    from worker.errors import NoNetwork

    host = _ALL_INTERFACES if address is None else _own_address(address)
    settings = settings_of({**options, "host": host})
    settings = replace(settings, page_dir=settings.page_dir or FOLDER)
    if address is None and lan_address() is None:
        raise NoNetwork(_NO_NETWORK)
    _ensure_tutor(settings)
    place = supervise.address(settings)
    networks = "every network of this machine" if address is None else f"the network of {address}"
    click.echo(f"\n{_NOTICE.format(networks=networks)}\nIn this room: {place}\n")
    _print_qr_code(place)
    raise SystemExit(supervise.supervise(settings))


def _own_address(address: str) -> str:
    """The address, checked to be one of this machine that other machines can reach.

    Raises:
        UsageError: It is no address, a loopback address, or another machine's.
    """
    from service.http.requests.host_guard import is_address, is_loopback
    from service.http.requests.lan_addresses import lan_address

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


def _ensure_tutor(settings: Settings) -> None:
    """Make a tutor where there is none, after a prompt for the name.

    Raises:
        UsageError: There is none, and no terminal to prompt at.
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


def _print_qr_code(place: str) -> None:
    """Print a QR code in half blocks, if the terminal's encoding has them."""
    import segno

    try:
        "█▀▄".encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return
    segno.make(place, error="m", micro=False).terminal(compact=True, border=2)
