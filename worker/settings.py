"""Everything that an operator can set, in one table, so that it is also documented once.

Each setting is an environment variable `RICALCO_<NAME>`. The same code runs on one
machine and on many: only these values differ. Nothing is read at import; the start of each
process calls `Settings.from_env` and passes the values on.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass, fields
from ipaddress import ip_address, ip_network
from pathlib import Path
from typing import Any, Literal, NamedTuple
from urllib.parse import urlsplit

import platformdirs

from worker.errors import SettingInvalid

PREFIX = "RICALCO_"
MOST_PORT = 65535
LogLevel = Literal["DEBUG", "INFO", "WARNING", "ERROR"]
LOG_LEVELS: tuple[LogLevel, ...] = ("DEBUG", "INFO", "WARNING", "ERROR")
Kind = Literal["folder", "page", "url", "text", "level", "sender", "count", "words", "secret"]
Sender = Literal["service", "proxy", "bucket"]
SENDERS: tuple[Sender, ...] = ("service", "proxy", "bucket")
#: A shorter secret could be guessed.
LEAST_SECRET = 32


class Setting(NamedTuple):
    """One line of the table.

    Attributes:
        name: The variable without its prefix; in small letters, the field of `Settings`.
        default: As it would be written in the environment; "" is determined at the start.
        meaning: What it does, in one sentence, with its unit.
        kind: How the value is read.
        least, most: Bounds of a count, both included.
    """

    name: str
    default: str
    meaning: str
    kind: Kind
    least: int = 1
    most: int = 2**31 - 1

    @property
    def variable(self) -> str:
        """The environment variable."""
        return PREFIX + self.name


TABLE: tuple[Setting, ...] = (
    Setting("DATA_DIR", "", "Folder of ledger and files; empty: the user's data folder.", "folder"),
    Setting("BROKER_URL", "", "Message broker (redis://…); empty: one machine, none.", "url"),
    Setting("DATABASE_URL", "", "Ledger database; empty: a SQLite file in DATA_DIR.", "url"),
    Setting("LEDGER_CONNECTIONS", "8", "Most of one process to PostgreSQL.", "count", 2, 500),
    Setting("STORAGE_URL", "", "Where files are kept; empty: DATA_DIR/files.", "url"),
    Setting("HOST", "127.0.0.1", "Address the service listens on.", "text"),
    Setting("PORT", "8640", "Port the service listens on.", "count", 1, MOST_PORT),
    Setting("WEB_PROCESSES", "2", "Web processes that `ricalco web` starts.", "count", 1, 64),
    Setting("WORKERS", "", "Packs made side by side; empty: one per core.", "count", 1, 256),
    Setting("THREADS", "2", "Threads that make one pack.", "count", 1, 64),
    Setting("MAX_UPLOAD_BYTES", "40000000", "Largest photo that is accepted, in bytes.", "count"),
    Setting("MAX_PIXELS", "60000000", "Largest photo that is accepted, in pixels.", "count"),
    Setting("PHOTO_SECONDS", "20", "Processor time for reading one photo, in s.", "count", 1, 3600),
    Setting("MAX_SHEETS", "400", "Most sheets that one pack may have.", "count", 1, 10000),
    Setting("LEASE_SECONDS", "30", "How long a silent worker keeps a pack, in s.", "count", 1, 999),
    Setting("SOFT_LIMIT_SECONDS", "90", "After this, in s, making is stopped.", "count", 1, 86400),
    Setting("HARD_LIMIT_SECONDS", "120", "After this, in s, it is killed.", "count", 1, 86400),
    Setting("ATTEMPTS", "3", "How often a pack is tried before it is given up.", "count", 1, 20),
    Setting("MAX_UNFINISHED", "50", "Packs of one person that may wait at once.", "count"),
    Setting(
        "MAX_QUEUED",
        "0",
        "Packs that may wait in all; 0: 500 for each that is made side by side.",
        "count",
        0,
    ),
    Setting("MAX_EVENT_STREAMS", "16", "Event streams that are open at once.", "count", 0, 10000),
    Setting(
        "SIGN_IN_DAYS", "30", "A browser unused for so many days is signed out.", "count", 1, 400
    ),
    Setting("LOG_LEVEL", "INFO", f"What is logged: {', '.join(LOG_LEVELS)}.", "level"),
    Setting("ALLOWED_HOSTS", "", "More host names that are answered, comma between.", "words"),
    Setting(
        "TRUSTED_PROXY", "", "Address of the proxy that ends TLS; empty: there is none.", "text"
    ),
    Setting("DOWNLOADS", "service", "Who sends packs: service, proxy or bucket.", "sender"),
    Setting(
        "WEBHOOK_NETWORKS",
        "",
        "Private networks that webhooks may go to, also without TLS, comma between.",
        "words",
    ),
    Setting("LTI_PRIVATE_HOSTS", "", "Platform hosts that may be private or without TLS.", "words"),
    Setting("METRICS_KEY", "", "Secret with which a Prometheus reads /metrics.", "secret"),
    Setting(
        "METRICS_ADDRESS", "", "Where a worker shows its figures (host:port); empty: not.", "text"
    ),
    Setting("PAGE_DIR", "", "Folder of the page; empty: `ricalco serve` takes its own.", "page"),
)


@dataclass(frozen=True, kw_only=True)
class Settings:
    """The values that one process runs with; `TABLE` says what each means."""

    data_dir: Path
    broker_url: str = ""
    database_url: str = ""
    ledger_connections: int = 8
    storage_url: str = ""
    host: str = "127.0.0.1"
    port: int = 8640
    web_processes: int = 2
    workers: int = 1
    threads: int = 2
    max_upload_bytes: int = 40_000_000
    max_pixels: int = 60_000_000
    photo_seconds: int = 20
    max_sheets: int = 400
    lease_seconds: int = 30
    soft_limit_seconds: int = 90
    hard_limit_seconds: int = 120
    attempts: int = 3
    max_unfinished: int = 50
    max_queued: int = 0
    max_event_streams: int = 16
    sign_in_days: int = 30
    log_level: LogLevel = "INFO"
    allowed_hosts: tuple[str, ...] = ()
    trusted_proxy: str = ""
    downloads: Sender = "service"
    webhook_networks: tuple[str, ...] = ()
    lti_private_hosts: tuple[str, ...] = ()
    metrics_key: str = ""
    metrics_address: str = ""
    page_dir: Path | None = None

    @classmethod
    def from_env(cls, environ: Mapping[str, str] | None = None) -> Settings:
        """Read the settings.

        Args:
            environ: The environment's variables; None is this process's own. The user's data
                folder is this process's in any case.

        Raises:
            SettingInvalid: A value cannot be used; `field` is the variable.
        """
        environ = os.environ if environ is None else environ
        values: dict[str, Any] = {}
        for line in TABLE:
            written = environ.get(line.variable, "").strip() or line.default
            values[line.name.lower()] = _read(line, written)
        return cls(**values)

    def __post_init__(self) -> None:
        """Check values that depend on each other, or have a form of their own."""
        if self.hard_limit_seconds <= self.soft_limit_seconds:
            variable = PREFIX + "HARD_LIMIT_SECONDS"
            message = f"{variable} must be greater than {PREFIX}SOFT_LIMIT_SECONDS."
            raise SettingInvalid(message, field=variable)
        if self.trusted_proxy and not _is_address(self.trusted_proxy):
            variable = PREFIX + "TRUSTED_PROXY"
            message = f"{variable} is {self.trusted_proxy!r}; it must be an address in figures."
            raise SettingInvalid(message, field=variable)
        if self.metrics_address:
            self._check_metrics_address()
        self._check_downloads()
        for network in self.webhook_networks:
            if not _is_network(network):
                variable = PREFIX + "WEBHOOK_NETWORKS"
                message = f"{variable} has {network!r}; write networks like 10.20.0.0/16."
                raise SettingInvalid(message, field=variable)

    def _check_metrics_address(self) -> None:
        """A worker's figures are open to this machine alone, or to whoever has the key."""
        variable = PREFIX + "METRICS_ADDRESS"
        host, port = self.metrics_place
        if not host or not 0 < port <= MOST_PORT:
            message = f"{variable} is {self.metrics_address!r}; write it like 127.0.0.1:9640."
            raise SettingInvalid(message, field=variable)
        if not self.metrics_key and not (_is_address(host) and ip_address(host).is_loopback):
            message = f"{variable} is open to others: set {PREFIX}METRICS_KEY too."
            raise SettingInvalid(message, field=variable)

    @property
    def metrics_place(self) -> tuple[str, int]:
        """Host and port of a worker's figures; port 0 where they cannot be read."""
        host, _, port = self.metrics_address.rpartition(":")
        return host.strip("[]"), int(port) if port.isdecimal() and port.isascii() else 0

    @property
    def metrics_folder(self) -> Path:
        """Where the processes of this machine keep their counts."""
        return self.data_dir / "metrics"

    def _check_downloads(self) -> None:
        """Check that whoever is to send packs is there."""
        variable = PREFIX + "DOWNLOADS"
        if self.downloads == "proxy" and not self.trusted_proxy:
            message = f"{variable}=proxy needs {PREFIX}TRUSTED_PROXY, the address of that proxy."
            raise SettingInvalid(message, field=variable)
        if self.downloads == "bucket" and not self.storage_url.startswith("s3:"):
            message = f"{variable}=bucket needs a bucket: {PREFIX}STORAGE_URL=s3://…"
            raise SettingInvalid(message, field=variable)

    @property
    def one_machine(self) -> bool:
        """No broker: the worker watches the ledger itself."""
        return not self.broker_url

    @property
    def ledger_url(self) -> str:
        """The SQLAlchemy URL of the ledger."""
        return self.database_url or f"sqlite:///{(self.data_dir / 'ledger.db').as_posix()}"

    @property
    def files_url(self) -> str:
        """Where files are kept, as a URL."""
        return self.storage_url or (self.data_dir / "files").absolute().as_uri()

    def to_env(self) -> dict[str, str]:
        """The same settings as environment variables, for a child process."""
        env: dict[str, str] = {}
        for one in fields(self):
            value = getattr(self, one.name)
            text = ",".join(value) if isinstance(value, tuple) else str(value)
            env[PREFIX + one.name.upper()] = "" if value is None else text
        return env


def _is_address(text: str) -> bool:
    try:
        ip_address(text)
    except ValueError:
        return False
    return True


def _is_network(text: str) -> bool:
    try:
        ip_network(text)
    except ValueError:
        return False
    return True


def user_data_dir() -> Path:
    """The folder where this system keeps the data of this process's user.

    It follows the XDG Base Directory Specification on Linux, Application Support on macOS and
    LOCALAPPDATA on Windows.
    """
    # Names of folders are in small letters on Linux, and begin with a capital elsewhere.
    name = "Ricalco" if sys.platform in {"darwin", "win32"} else "ricalco"
    return platformdirs.user_data_path(name, appauthor=False)


def _read(line: Setting, written: str) -> object:
    """One value, checked."""
    if line.kind == "page":
        return Path(written).expanduser().absolute() if written else None
    if line.kind == "folder":
        return Path(written).expanduser().absolute() if written else user_data_dir()
    if line.kind == "count":
        return _count(line, written or str(os.cpu_count() or 1))
    if line.kind == "words":
        return tuple(word.strip() for word in written.split(",") if word.strip())
    if line.kind == "secret" and written and len(written) < LEAST_SECRET:
        # The secret itself is not told, since errors are logged.
        message = f"{line.variable} is too short: give {LEAST_SECRET} random characters or more."
        raise SettingInvalid(message, field=line.variable)
    if line.kind == "level" and written.upper() not in LOG_LEVELS:
        raise _invalid(line, written, f"one of {', '.join(LOG_LEVELS)}")
    if line.kind == "sender" and written not in SENDERS:
        raise _invalid(line, written, f"one of {', '.join(SENDERS)}")
    if line.kind == "url" and written and not urlsplit(written).scheme:
        raise _invalid(line, written, "a URL such as scheme://place")
    return written.upper() if line.kind == "level" else written


def _count(line: Setting, written: str) -> int:
    """A whole number within the bounds of its line."""
    try:
        value = int(written)
    except ValueError:
        raise _invalid(line, written, "a whole number") from None
    if not line.least <= value <= line.most:
        raise _invalid(line, written, f"between {line.least} and {line.most}")
    return value


def _invalid(line: Setting, written: str, wanted: str) -> SettingInvalid:
    """The error that names the variable and says which values it takes."""
    message = f"{line.variable} is {written!r}; it must be {wanted}."
    return SettingInvalid(message, field=line.variable)
