"""The `ricalco` command: one sentence per subcommand, one plain line per error."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Sequence
from importlib.metadata import PackageNotFoundError, version
from types import FrameType
from typing import NoReturn

import click

from client.command import exits
from client.command.calibrate import calibrate
from client.command.classes.batches import batch
from client.command.classes.classes import class_
from client.command.classes.tutor import tutor
from client.command.machine.check import check
from client.command.machine.open import open_
from client.command.machine.serve import serve, worker
from client.command.make import make
from client.command.plan import plan
from client.command.preview import preview
from client.command.printers import printers
from client.command.send import send
from client.errors import ClientError
from worker.errors import RicalcoError

_CODES = "\n".join(f"  {code:>3}  {meaning}" for code, meaning in exits.EXIT_CODES.items())
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
    send,
    calibrate,
    printers,
    serve,
    open_,
    tutor,
    class_,
    batch,
    worker,
    check,
):
    cli.add_command(_command)


def run(arguments: Sequence[str]) -> int:
    """Run the command and return its exit code; nothing escapes as a traceback."""
    try:
        # Who says nothing is shown what can be said.
        code = cli.main(
            args=list(arguments) or ["--help"], prog_name="ricalco", standalone_mode=False
        )
    except click.ClickException as error:
        exits.tell_usage(error, as_json="--json" in arguments)
        return exits.USAGE
    except (RicalcoError, ClientError) as error:
        exits.tell(error, as_json="--json" in arguments)
        return exits.exit_code(error)
    except (KeyboardInterrupt, click.Abort):
        return exits.INTERRUPTED
    except BrokenPipeError:
        return _reader_left()
    except Exception as error:  # noqa: BLE001 -- the last door: whatever it is becomes one line.
        return _unforeseen(error, debug="--debug" in arguments)
    return code if isinstance(code, int) else exits.DONE


def _unforeseen(error: Exception, *, debug: bool) -> int:
    """Files that cannot be read or written, and faults of our own."""
    if debug:
        raise error
    if isinstance(error, OSError) and error.strerror:
        place = f"{error.filename}: " if error.filename else ""
        click.echo(f"ricalco: {place}{error.strerror}.", err=True)
    else:
        fault = f"{type(error).__name__}: {error}".splitlines()[0]
        message = f"ricalco: unforeseen fault ({fault}). Run it again as ricalco --debug …"
        click.echo(message, err=True)
    return exits.FAILED


def _reader_left() -> int:
    """Whoever read standard output went away (`ricalco plan … | head`): no fault."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return exits.DONE


def _end(number: int, frame: FrameType | None) -> NoReturn:
    """End on SIGTERM as on Ctrl-C: every block is left, every temporary file removed."""
    del number, frame
    raise SystemExit(exits.ENDED)


def main() -> NoReturn:
    """The console script."""
    signal.signal(signal.SIGTERM, _end)
    sys.exit(run(sys.argv[1:]))
