"""Print runs to printers with the tools of CUPS: `lp` and `ipptool`.

A queue that was set up on the machine is printed to with `lp`, a printer's own address with
`ipptool` and the file that the service writes for it: that asks the printer before it sends
anything.
"""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import click

from ricalco_client.errors import ClientError, MachineNotReady
from ricalco_client.values import JsonObject

ADDRESSES = ("ipp://", "ipps://")
#: Seconds without a byte; a printer that draws large pages lets its sender wait.
_SILENCE_S = 600
#: Where the tools come from on Debian and its kin.
_PACKAGES = {"lp": "cups-client", "ipptool": "cups-ipp-utils"}
#: What it means that a printer refuses an attribute.
_MEANINGS = {
    "media": "it has no paper called {}",
    "document-format": "it takes no PDF (a queue of CUPS would convert it: give its name)",
    "sides": "it cannot print on one side only",
    "print-scaling": "it cannot print at actual size",
    "print-color-mode": "it cannot print in {}",
}
#: Attributes of an answer that refuse nothing.
_USUAL = frozenset(
    {"attributes-charset", "attributes-natural-language"}
    | {"status-message", "detailed-status-message", "print-scaling-supported"}
)


@dataclass(frozen=True, kw_only=True)
class PrintJob:
    """A print run on this machine, and its ticket.

    Attributes:
        run: The PDF file.
        ticket: The ticket as JSON, for `lp`.
        ticket_file: The ticket as a file for `ipptool`.
    """

    run: Path
    ticket: JsonObject
    ticket_file: Path


def check_tool(printer: str) -> str:
    """The path of the tool that prints to a printer.

    Raises:
        MachineNotReady: It is not installed.
    """
    name = "ipptool" if printer.startswith(ADDRESSES) else "lp"
    found = shutil.which(name)
    if found is None:
        message = (
            f"Printing needs {name} of CUPS, which is not on this machine. Install it (Debian, "
            f"Ubuntu: sudo apt install {_PACKAGES[name]}), or fetch the print run with ricalco "
            "batch fetch and print it by hand: at actual size, one-sided."
        )
        raise MachineNotReady(message, code="tool-missing")
    return found


def send(job: PrintJob, printer: str, *, as_it_can: bool) -> int:
    """Send a job to a printer; returns the number that the printer gives it.

    Args:
        job: The job.
        printer: An address that begins with ipp:// or ipps://, or the name of a queue.
        as_it_can: Let the printer at an address replace what it cannot do. A queue of CUPS
            always does.

    Raises:
        MachineNotReady: The tool is not installed.
        ClientError: The printer cannot be reached, or refuses.
    """
    tool = check_tool(printer)
    if printer.startswith(ADDRESSES):
        return _send_to_address(tool, job, printer, as_it_can=as_it_can)
    return _send_to_queue(tool, job, printer)


class _Ended(NamedTuple):
    """How a tool has ended."""

    code: int
    output: str
    errors: str


def _run(*command: str | Path) -> _Ended:
    import subprocess  # Only printing needs it.

    ended = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)  # noqa: S603 -- A tool by its path, and no shell.
    return _Ended(ended.returncode, ended.stdout, ended.stderr)


def _send_to_queue(tool: str, job: PrintJob, queue: str) -> int:
    attributes = job.ticket["job_attributes"].items()
    options = [word for name, value in attributes for word in ("-o", f"{name}={value}")]
    title = job.ticket["operation_attributes"]["job-name"]
    ended = _run(tool, "-d", queue, "-t", title, *options, "--", job.run)
    number = re.search(rf"{re.escape(queue)}-(\d+)", ended.output)
    if ended.code != 0 or number is None:
        said = _one_line(ended.errors or ended.output)
        message = f"The queue {queue} takes no job ({said}). To list the queues: lpstat -e"
        raise ClientError(message, code="printer-refused")
    return int(number[1])


def _send_to_address(tool: str, job: PrintJob, address: str, *, as_it_can: bool) -> int:
    import plistlib  # Only printing needs it.

    report = job.ticket_file.with_suffix(".plist")
    freely = ("-I", "-d", "fidelity=false") if as_it_can else ()
    settings = ("-P", report, "-T", str(_SILENCE_S), *freely, "-f", job.run)
    ended = _run(tool, *settings, address, job.ticket_file)
    try:
        told = plistlib.loads(report.read_bytes())
    except (OSError, ValueError, plistlib.InvalidFileException) as error:
        message = f"ipptool gave no report ({_one_line(ended.errors)})."
        raise ClientError(message, code="printer-refused") from error
    return _job_number(told, address)


def _one_line(said: str) -> str:
    return " ".join(said.split()) or "it says nothing"


def _job_number(told: dict[str, Any], address: str) -> int:
    """The number of the job in a report of ipptool, whose last step is the decisive one.

    Raises:
        ClientError: There is none, with the reason.
    """
    steps = told.get("Tests") or []
    if not steps or "ErrorMessage" in told:
        said = _one_line(str(told.get("ErrorMessage", "")))
        message = f"{address} cannot be reached ({said}). Is the printer on, the address right?"
        raise ClientError(message, code="printer-unreachable")
    answer = _answer(steps[-1])
    if "job-id" not in answer:
        raise ClientError(_refusal(steps[-1], answer, address), code="printer-refused")
    if steps[-1].get("StatusCode") != "successful-ok":
        click.echo("ricalco: the printer replaced something: measure the first sheet.", err=True)
    return int(answer["job-id"])


def _answer(step: dict[str, Any]) -> dict[str, Any]:
    groups = step.get("ResponseAttributes") or []
    return {name: value for group in groups for name, value in group.items()}


def _refusal(step: dict[str, Any], answer: dict[str, Any], address: str) -> str:
    """Why a printer refuses, and what to do."""
    refused = {name: value for name, value in answer.items() if name not in _USUAL}
    if "print-scaling-supported" in answer:
        refused["print-scaling"] = "none"
    meant = [
        _MEANINGS.get(name, f"it cannot do {name} {{}}").format(value)
        for name, value in refused.items()
    ]
    said = answer.get("status-message") or step.get("StatusCode") or ""
    return (
        f"{address} refuses: {'; '.join(meant) or _one_line(str(said))}. Choose "
        "another printer, or let it print as it can with --as-it-can, and measure the first sheet."
    )
