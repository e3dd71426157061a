"""The servers that others wrote: Redis, PostgreSQL and a bucket."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

from deploy.arrangement.parts import Part, PartFailed, answers, free_port

#: Where Debian keeps PostgreSQL's programs, a folder for each version.
_DEBIAN = Path("/usr/lib/postgresql")
#: Where deploy/arrangement.sh puts the bucket's packages.
_BUCKET_PACKAGES = Path(sys.prefix, "bucket-server", "node_modules")
_BUCKET_SERVER = Path(__file__).with_name("bucket_server.cjs")
#: The login that the bucket's server knows.
BUCKET_LOGIN = {"AWS_ACCESS_KEY_ID": "S3RVER", "AWS_SECRET_ACCESS_KEY": "S3RVER"}
_BUCKET = "ricalco"
#: PostgreSQL refuses to run as root; Debian's package brings an account for it.
_POSTGRES = "postgres"
#: PostgreSQL's SSLRequest message: eight bytes, answered with one (its manual, 55.7).
_SSL_REQUEST = bytes.fromhex("0000000804d2162f")


def redis(folder: Path) -> tuple[Part, str]:
    """Redis, which writes each message to its file; and the broker's URL."""
    port = free_port()
    data = _made(folder / "redis")
    words = f"--bind 127.0.0.1 --port {port} --appendonly yes --maxmemory-policy noeviction"
    part = Part(
        name="redis",
        command=[_program("redis-server"), *words.split(), "--save", "", "--dir", str(data)],
        log=folder / "redis.log",
        ready=lambda: answers(port, b"PING\r\n", b"+PONG"),
    )
    return part, f"redis://127.0.0.1:{port}/0"


def postgresql(folder: Path) -> tuple[Part, str]:
    """PostgreSQL with an empty database; and the ledger's URL.

    Raises:
        PartFailed: Its folder cannot be prepared.
    """
    port = free_port()
    data = folder / "postgresql"
    account = _POSTGRES if os.geteuid() == 0 else None
    if not (data / "PG_VERSION").exists():
        _prepare(_made(data), account)
    settings = ("listen_addresses=127.0.0.1", "unix_socket_directories=", "max_connections=200")
    options = [word for setting in settings for word in ("-c", setting)]
    part = Part(
        name="postgresql",
        command=[_postgres_program("postgres"), "-D", str(data), "-p", str(port), *options],
        log=folder / "postgresql.log",
        ready=lambda: answers(port, _SSL_REQUEST, b"N"),
        account=account,
        # It calls this a fast shutdown: whatever is connected is broken off.
        stop_with=signal.SIGINT,
    )
    return part, f"postgresql+psycopg://ricalco@127.0.0.1:{port}/postgres"


def bucket(folder: Path) -> tuple[Part, str]:
    """A server of buckets with one in it, which lasts; and the storage's URL.

    Raises:
        PartFailed: Its packages are missing.
    """
    if not _BUCKET_PACKAGES.is_dir():
        message = "The bucket's server is not installed: bash deploy/arrangement.sh does it."
        raise PartFailed(message)
    port = free_port()
    words = [_BUCKET_SERVER, _BUCKET_PACKAGES, _made(folder / "bucket"), port, _BUCKET]
    part = Part(
        name="bucket",
        command=[_program("node"), *map(str, words)],
        log=folder / "bucket.log",
        ready=lambda: answers(port, b"GET / HTTP/1.0\r\n\r\n", b"HTTP/1.1 "),
    )
    return part, f"s3://{_BUCKET}/school?endpoint=http://127.0.0.1:{port}&region=us-east-1"


def _prepare(data: Path, account: str | None) -> None:
    as_account: dict[str, Any] = {}
    if account is not None:
        shutil.chown(data, account, account)
        as_account = {"user": account, "group": account, "extra_groups": []}
    words = f"-U ricalco -A trust -E UTF8 --locale C -D {data}".split()
    made = subprocess.run(  # noqa: S603 -- Our own words.
        [_postgres_program("initdb"), *words],
        cwd="/",
        capture_output=True,
        text=True,
        check=False,
        **as_account,
    )
    if made.returncode:
        message = (
            f"PostgreSQL cannot keep its data in {data}: take a folder that the account "
            f"{account or os.geteuid()} can enter.\n{made.stderr}"
        )
        raise PartFailed(message)


def _made(folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    return folder


def _program(name: str) -> str:
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if found is None:
        message = f"{name} is not installed: bash deploy/arrangement.sh does it."
        raise PartFailed(message)
    return found


def _postgres_program(name: str) -> str:
    found = sorted(_DEBIAN.glob(f"*/bin/{name}"), key=lambda path: float(path.parts[-3]))
    return str(found[-1]) if found else _program(name)
