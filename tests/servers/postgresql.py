"""A real PostgreSQL server on a free port, in a folder of its own, for as long as tests run."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
from pathlib import Path
from typing import Any

import psycopg

from tests.servers.ports import free_port
from tests.waiting import wait_until

#: Where Debian keeps the server's programs, a folder for each version.
_DEBIAN = Path("/usr/lib/postgresql")


class PostgresServer:
    """Databases, each empty, and thrown away with the server."""

    def __init__(self) -> None:
        self.port = free_port()
        self._folder = Path(tempfile.mkdtemp(prefix="ricalco-postgresql-"))
        self._made = 0
        # The server refuses to run as root; Debian's package brings an account for it.
        self._as: dict[str, Any] = {}
        if os.geteuid() == 0:
            shutil.chown(self._folder, "postgres", "postgres")
            self._as = {"user": "postgres", "group": "postgres", "extra_groups": []}
        self._data = self._folder / "data"
        subprocess.run(
            [
                program("initdb"),
                "-D",
                self._data,
                "-U",
                "ricalco",
                "-A",
                "trust",
                "-E",
                "UTF8",
                "-N",
            ],
            cwd=self._folder,
            stdout=subprocess.DEVNULL,
            check=True,
            **self._as,
        )
        self.start()

    def start(self) -> None:
        """Start, and wait until it answers."""
        # Nothing here has to outlive a power cut, so nothing waits for the disk.
        settings = [f"port={self.port}", "listen_addresses=127.0.0.1", "fsync=off"]
        settings += ["unix_socket_directories=", "max_connections=200"]
        options = [word for setting in settings for word in ("-c", setting)]
        with (self._folder / "log").open("a") as log:
            self._process = subprocess.Popen(
                [program("postgres"), "-D", self._data, *options],
                cwd=self._folder,
                stderr=log,
                **self._as,
            )
        wait_until(self._answers)

    def stop(self) -> None:
        """Break off whatever is connected, and end (PostgreSQL calls it a fast shutdown)."""
        self._process.send_signal(signal.SIGINT)
        self._process.wait(30)

    def url(self, name: str = "postgres") -> str:
        """The ledger's URL of a database."""
        return f"postgresql+psycopg://ricalco@127.0.0.1:{self.port}/{name}"

    def new_database(self) -> str:
        """The URL of a database that is new and empty."""
        self._made += 1
        name = f"ledger{self._made}"
        with self._connected() as connection:
            connection.execute(f"CREATE DATABASE {name}".encode())
        return self.url(name)

    def end(self) -> None:
        """Stop, and leave nothing behind."""
        self.stop()
        shutil.rmtree(self._folder)

    def _connected(self) -> psycopg.Connection[Any]:
        return psycopg.connect(
            f"postgresql://ricalco@127.0.0.1:{self.port}/postgres", autocommit=True
        )

    def _answers(self) -> bool:
        assert self._process.poll() is None, (self._folder / "log").read_text()
        try:
            with self._connected():
                return True
        except psycopg.OperationalError:
            return False


def program(name: str) -> str:
    """One of the programs that come with the server."""
    found = sorted(_DEBIAN.glob(f"*/bin/{name}"), key=lambda path: float(path.parts[-3]))
    return str(found[-1]) if found else shutil.which(name) or name
