"""The `ricalco` command: its subcommands, its exit code, and one line for each error."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from types import FrameType
from typing import NoReturn

import click

from client.command import exit_codes
from client.command.calibrate import calibrate
from client.command.classes.batches import batch
from client.command.classes.classes import class_
from client.command.classes.printing import print_
from client.command.classes.sites import sites
from client.command.classes.tutor import tutor
from client.command.grid import grid
from client.command.machine.backup import backup, restore
from client.command.machine.check import check
from client.command.machine.lti import lti
from client.command.machine.open import open_
from client.command.machine.serve import serve, web, worker
from client.command.make import make
from client.command.plan import plan
from client.command.preview import preview
from client.command.printers import printers
from client.command.send import send
from ricalco_client.errors import ClientError
from worker.errors import RicalcoError

_CODES = "\n".join(f"  {code:>3}  {meaning}" for code, meaning in exit_codes.EXIT_CODES.items())
_EPILOG = f"\b\nExit codes:\n{_CODES}"


def _version() -> str:
    try:
        return version("ricalco")
    except PackageNotFoundError:
        return "not installed"


@click.group(epilog=_EPILOG, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(_version(), prog_name="ricalco")
@click.option("--debug", is_flag=True, help="Show where an unforeseen fault happened.")
def cli(*, debug: bool) -> None:
    """Ricalco: from a photo to sheets that join to the exact size of your paper or board."""
    del debug  # Read from the arguments in `run`, which outlives the command.


for _command in (
    make,
    plan,
    preview,
    grid,
    send,
    calibrate,
    printers,
    serve,
    open_,
    tutor,
    class_,
    sites,
    lti,
    batch,
    print_,
    web,
    worker,
    backup,
    restore,
    check,
):
    cli.add_command(_command)


def run(arguments: Sequence[str]) -> int:
    """Run the command and return its exit code; nothing escapes as a traceback."""
    try:
        # Without arguments the help is shown.
        code = cli.main(
            args=list(arguments) or ["--help"], prog_name="ricalco", standalone_mode=False
        )
    except click.ClickException as error:
        exit_codes.print_usage_error(error, as_json="--json" in arguments)
        return exit_codes.USAGE
    except (RicalcoError, ClientError) as error:
        exit_codes.print_error(error, as_json="--json" in arguments)
        return exit_codes.exit_code(error)
    except (KeyboardInterrupt, click.Abort):
        return exit_codes.INTERRUPTED
    except BrokenPipeError:
        return _discard_output()
    except Exception as error:  # noqa: BLE001 -- The last handler: every fault becomes one line.
        return _report_unforeseen(error, debug="--debug" in arguments)
    return code if isinstance(code, int) else exit_codes.DONE


def _report_unforeseen(error: Exception, *, debug: bool) -> int:
    """Report a file that cannot be read or written, or a fault of our own, in one line."""
    if debug:
        raise error
    if isinstance(error, OSError) and error.strerror:
        path = f"{error.filename}: " if error.filename else ""
        click.echo(f"ricalco: {path}{error.strerror}.", err=True)
    else:
        fault = f"{type(error).__name__}: {error}".splitlines()[0]
        message = f"ricalco: unforeseen fault ({fault}). Run it again as ricalco --debug …"
        click.echo(message, err=True)
    return exit_codes.FAILED


def _discard_output() -> int:
    """Write no more: the reader has ended, as in `ricalco plan … | head`, which is no fault."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return exit_codes.DONE


def _on_sigterm(number: int, frame: FrameType | None) -> NoReturn:
    """End on SIGTERM as on Ctrl-C: blocks are left in order, temporary files removed."""
    del number, frame
    raise SystemExit(exit_codes.ENDED)


def main() -> NoReturn:
    """The console script."""
    signal.signal(signal.SIGTERM, _on_sigterm)
    sys.exit(run(sys.argv[1:]))
