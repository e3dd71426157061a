"""The parts that are Ricalco's: workers, web processes, and nginx with our configuration."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import sys
from dataclasses import dataclass
from http import HTTPStatus
from http.client import HTTPConnection, HTTPException
from pathlib import Path

from deploy.arrangement.parts import Part, PartFailed, free_port

ROOT = Path(__file__).resolve().parents[2]
#: Packs may take as long as this to be finished or handed back: `worker.jobs.parent_watch`.
WORKER_PATIENCE_S, WEB_PATIENCE_S = 60.0, 50.0
_ANSWER_WITHIN_S = 10.0


@dataclass(frozen=True, kw_only=True)
class Program:
    """What all processes of Ricalco share.

    Attributes:
        folder: Of the arrangement; each process has a folder of its own below it.
        settings: The settings that are the same for all.
    """

    folder: Path
    settings: dict[str, str]

    def environment(self, name: str, **settings: object) -> dict[str, str]:
        """The environment of a process with this name."""
        own = {f"RICALCO_{key}": str(value) for key, value in settings.items()}
        return {
            **self.settings,
            "PYTHONPATH": str(ROOT),
            "PYTHONUNBUFFERED": "1",
            "RICALCO_DATA_DIR": str(self.folder / name),
            **own,
        }

    def worker(self, number: int, side_by_side: int = 1) -> Part:
        """A worker with a folder of its own."""
        name = f"worker-{number}"
        part = Part(
            name=name,
            command=command("worker"),
            log=self.folder / f"{name}.log",
            ready=lambda: " ready." in part.written(),
            environment=self.environment(name, WORKERS=side_by_side),
            patience_s=WORKER_PATIENCE_S,
        )
        return part

    def web(self, processes: int) -> tuple[Part, int]:
        """The web processes, and the port that they share."""
        port = free_port()
        part = Part(
            name="web",
            command=command("web"),
            log=self.folder / "web.log",
            ready=lambda: _is_ready(port),
            environment=self.environment("web", PORT=port, WEB_PROCESSES=processes),
            patience_s=WEB_PATIENCE_S,
        )
        return part, port


def _is_ready(port: int) -> bool:
    """Whether the service says so there.

    Raises:
        OSError: It does not answer, yet.
    """
    connection = HTTPConnection("127.0.0.1", port, timeout=_ANSWER_WITHIN_S)
    try:
        connection.request("GET", "/readyz")
        return connection.getresponse().status == HTTPStatus.OK
    except HTTPException as error:
        raise OSError(error) from error
    finally:
        connection.close()


def command(*words: str) -> list[str]:
    """The `ricalco` command with these words."""
    return [sys.executable, "-m", "client.command", *words]


def nginx(folder: Path, web_port: int) -> tuple[Part, int]:
    """The proxy, with the files of deploy/nginx, and the port that it listens at.

    Raises:
        PartFailed: It is not installed.
    """
    program = shutil.which("nginx", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if program is None:
        message = "nginx is not installed: bash deploy/arrangement.sh does it."
        raise PartFailed(message)
    port = free_port()
    own = folder / "nginx"
    own.mkdir(exist_ok=True)
    if not (own / "ricalco").exists():
        # As the files say that they are installed.
        (own / "ricalco").symlink_to(ROOT / "deploy" / "nginx")
    (own / "nginx.conf").write_text(_nginx_settings(own, port, web_port))
    part = Part(
        name="nginx",
        command=[program, "-p", str(own), "-c", str(own / "nginx.conf"), "-e", "stderr"],
        log=folder / "nginx.log",
        ready=lambda: _is_ready(port),
        # What is being answered is answered to its end.
        stop_with=signal.SIGQUIT,
    )
    return part, port


def _nginx_settings(own: Path, port: int, web_port: int) -> str:
    """A whole configuration around the files of deploy/nginx."""
    # Its processes have this account, so that they may read what the web keeps.
    user = f"user {pwd.getpwuid(0).pw_name};" if os.geteuid() == 0 else ""
    kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    folders = "\n    ".join(f"{kind}_temp_path {own}/{kind};" for kind in kinds)
    return f"""\
{user}
daemon off;
worker_processes 2;
pid {own}/pid;
error_log stderr warn;
worker_rlimit_nofile 8192;
events {{ worker_connections 4096; }}
http {{
    {folders}
    include /etc/nginx/mime.types;
    include ricalco/http.conf;
    access_log {own}/access.log ricalco;
    upstream ricalco_web {{ server 127.0.0.1:{web_port}; }}
    server {{
        listen 127.0.0.1:{port};
        server_name 127.0.0.1 localhost;
        error_log stderr crit;
        set $ricalco_files {own.parent}/files;
        include ricalco/locations.conf;
    }}
}}
"""
