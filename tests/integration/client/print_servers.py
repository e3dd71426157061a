"""Printers that keep what they get: a queue of a real CUPS, and CUPS's model IPP printer.

Each job leaves two files in a folder: the document as it arrived, and what was told with it.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.servers.ports import free_port
from tests.waiting import HANG_S

#: Debian keeps servers where only root's path leads.
_PATH = f"{os.environ['PATH']}:/usr/sbin"

#: Called by CUPS as: keep JOB USER TITLE COPIES OPTIONS FILE; without words it names itself.
_BACKEND = """#!/bin/sh
[ $# -eq 0 ] && { echo 'direct keep "Keep" "Keep"'; exit 0; }
folder="${DEVICE_URI#keep:}"
cat "$6" > "$folder/part"
printf 'title=%s\\n' "$3" > "$folder/$1.told"
printf '%s\\n' $5 >> "$folder/$1.told"
mv "$folder/part" "$folder/$1.pdf"
"""

#: Called by the model printer with the file; the attributes of the job are in the environment.
_COMMAND = """#!/bin/sh
cat "$1" > "$KEPT/part"
env | sed -n 's/^IPP_//p' > "$KEPT/$IPP_JOB_ID.told"
mv "$KEPT/part" "$KEPT/$IPP_JOB_ID.pdf"
"""

_CUPSD = """Listen 127.0.0.1:{port}
Browsing Off
WebInterface No
DefaultAuthType None
<Location />
Order allow,deny
Allow from 127.0.0.1
</Location>
<Location /admin>
Order allow,deny
Allow from 127.0.0.1
</Location>
<Policy default>
<Limit All>
Order allow,deny
Allow from 127.0.0.1
</Limit>
</Policy>
"""

_CUPS_FILES = """ServerRoot {folder}/root
ServerBin {folder}/bin
RequestRoot {folder}/spool
CacheDir {folder}/cache
StateDir {folder}/state
TempDir {folder}/cache
AccessLog {folder}/access.log
ErrorLog {folder}/error.log
PageLog {folder}/page.log
Printcap
SystemGroup root
"""

#: A message bus without anything on it: the model printer does not start without one.
_BUS = """<busconfig><type>session</type><listen>unix:path={socket}</listen>
<policy context="default"><allow send_destination="*" eavesdrop="true"/>
<allow eavesdrop="true"/><allow own="*"/></policy></busconfig>
"""


@dataclass(frozen=True)
class Printed:
    """A job as it arrived."""

    document: bytes
    told: Mapping[str, str]


@dataclass(frozen=True)
class Printer:
    """A printer, its name for the command, and the settings that lead to it."""

    name: str
    kept: Path
    environment: Mapping[str, str]

    def printed(self, job: int) -> Printed:
        """What arrived as a job; printing goes on after the sender has ended."""
        path = self.kept / f"{job}.pdf"
        until = time.monotonic() + HANG_S
        while not path.exists():
            assert time.monotonic() < until, f"job {job} has not arrived"
            time.sleep(0.05)
        lines = path.with_suffix(".told").read_text(encoding="utf-8").splitlines()
        told = dict(line.split("=", 1) for line in lines if "=" in line)
        return Printed(path.read_bytes(), told)

    @property
    def jobs(self) -> int:
        """How many jobs have arrived."""
        return len(list(self.kept.glob("*.pdf")))


@dataclass(frozen=True)
class _Server:
    process: subprocess.Popen[bytes]
    log: Path

    def wait_until(self, ready: Callable[[], bool]) -> None:
        """Wait until the server is ready, or fail with what it said."""
        until = time.monotonic() + HANG_S
        while not ready():
            if self.process.poll() is not None or time.monotonic() > until:
                pytest.fail(f"{self.process.args!r} is not ready: {self.log.read_text()[-2000:]}")
            time.sleep(0.05)


@contextmanager
def cups_queue(folder: Path) -> Iterator[Printer]:
    """A CUPS of one's own with a queue, Studio, that changes nothing of what it gets."""
    for name in ("root", "spool", "cache", "state", "kept", "bin/backend"):
        (folder / name).mkdir(parents=True)
    # CUPS starts its parts with a program of its own.
    (folder / "bin" / "daemon").symlink_to("/usr/lib/cups/daemon")
    # A backend that nobody else may run is run as the user of the server.
    _script(folder / "bin" / "backend" / "keep", _BACKEND)
    port = free_port()
    (folder / "cupsd.conf").write_text(_CUPSD.format(port=port))
    (folder / "cups-files.conf").write_text(_CUPS_FILES.format(folder=folder))
    environment = {"CUPS_SERVER": f"127.0.0.1:{port}"}
    options = ["-f", "-c", folder / "cupsd.conf", "-s", folder / "cups-files.conf"]
    with _running(["cupsd", *options], folder / "cupsd.log") as server:
        device = f"keep:{folder / 'kept'}"
        queue = ["lpadmin", "-p", "Studio", "-E", "-v", device, "-m", "raw"]
        server.wait_until(lambda: _succeeds(queue, environment))
        yield Printer("Studio", folder / "kept", environment)


@contextmanager
def model_printer(folder: Path, *attributes: str) -> Iterator[Printer]:
    """A printer that takes PDF on A4 and speaks IPP itself.

    Args:
        folder: Where it works.
        attributes: Attributes that it claims, as `keyword print-scaling-supported none`.
    """
    for name in ("kept", "spool"):
        (folder / name).mkdir(parents=True)
    _script(folder / "keep", _COMMAND)
    bus_socket = folder / "bus"
    (folder / "bus.conf").write_text(_BUS.format(socket=bus_socket))
    claimed = [
        "mimeMediaType document-format-supported application/pdf",
        "keyword media-supported iso_a4_210x297mm",
        "keyword media-ready iso_a4_210x297mm",
        "keyword print-color-mode-supported monochrome",
        "keyword sides-supported one-sided",
        *attributes,
    ]
    (folder / "printer.conf").write_text("".join(f"ATTR {each}\n" for each in claimed))
    port = free_port()
    address = f"ipp://localhost:{port}/ipp/print"
    printer = ["ippeveprinter", "-r", "off", "-p", str(port), "-n", "localhost"]
    printer += ["-a", str(folder / "printer.conf"), "-d", str(folder / "spool")]
    printer += ["-c", str(folder / "keep"), "Studio"]
    bus = ["dbus-daemon", "--nofork", "--nopidfile", f"--config-file={folder / 'bus.conf'}"]
    settings = {"DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={bus_socket}", "KEPT": str(folder / "kept")}
    with _running(bus, folder / "bus.log") as messages:
        messages.wait_until(bus_socket.exists)
        with _running(printer, folder / "printer.log", settings) as server:
            server.wait_until(lambda: _listens(port))
            yield Printer(address, folder / "kept", {})


def _script(path: Path, text: str) -> None:
    path.write_text(text)
    path.chmod(0o700)


@contextmanager
def _running(
    command: list[str | Path], log: Path, settings: Mapping[str, str] | None = None
) -> Iterator[_Server]:
    found = shutil.which(str(command[0]), path=_PATH)
    assert found, f"{command[0]} is not installed: bash deploy/test.sh installs it"
    with log.open("wb") as output:
        process = subprocess.Popen(
            [found, *command[1:]],
            env={**os.environ, **(settings or {})},
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    try:
        yield _Server(process, log)
    finally:
        process.terminate()
        process.wait(HANG_S)


def _succeeds(command: list[str], settings: Mapping[str, str]) -> bool:
    environment = {**os.environ, "PATH": _PATH, **settings}
    return (
        subprocess.run(command, env=environment, capture_output=True, check=False).returncode == 0
    )


def _listens(port: int) -> bool:
    try:
        with socket.create_connection(("localhost", port), timeout=5):
            return True
    except OSError:
        return False
