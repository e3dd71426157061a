"""All parts together: started in their order, restarted when they end, stopped the other way."""

from __future__ import annotations

import json
import os
import subprocess
import time
from pathlib import Path

from deploy.arrangement import program, servers
from deploy.arrangement.parts import Part, PartFailed
from deploy.arrangement.program import Program

#: A part that ended is started again after this, as a service manager does.
RESTART_PAUSE_S = 1.0
LOOK_EVERY_S = 0.2
#: Written anew whenever a part was started: addresses, and the process number of each part.
STATE = "arrangement.json"
KEY = "tutor-key"


class Arrangement:
    """Everything that a school runs, in one folder.

    Attributes:
        parts: By name, in the order in which they are started.
        address: Where nginx answers.
        key: The tutor's.
    """

    def __init__(
        self,
        folder: Path,
        *,
        workers: int = 2,
        web_processes: int = 2,
        settings: dict[str, str] | None = None,
    ) -> None:
        """Prepare; nothing runs yet.

        Args:
            folder: Made if it is not there; what is in it from the last time is used again.
            workers: How many worker processes, each with a folder of its own.
            web_processes: How many web processes.
            settings: More settings, by their whole names.
        """
        self.folder = folder.absolute()
        self.parts: dict[str, Part] = {}
        self._stages: list[tuple[Part, ...]] = []
        self.address = self.key = ""
        self._counts = workers, web_processes
        self._settings = settings or {}
        self._ended_at: dict[str, float] = {}

    def start(self) -> None:
        """Start all parts, one after the other, and wait for each.

        Raises:
            PartFailed: One does not start; those before it are stopped.
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        # PostgreSQL runs under another account, and must come to its folder.
        self.folder.chmod(0o711)
        try:
            self._start()
        except BaseException:
            self.stop()
            raise

    def _start(self) -> None:
        broker, broker_url = servers.redis(self.folder)
        ledger, ledger_url = servers.postgresql(self.folder)
        bucket, storage_url = servers.bucket(self.folder)
        self._run(broker, ledger, bucket)
        ours = Program(
            folder=self.folder,
            settings={
                **servers.BUCKET_LOGIN,
                "RICALCO_BROKER_URL": broker_url,
                "RICALCO_DATABASE_URL": ledger_url,
                "RICALCO_STORAGE_URL": storage_url,
                "RICALCO_TRUSTED_PROXY": "127.0.0.1",
                "RICALCO_DOWNLOADS": "proxy",
                **self._settings,
            },
        )
        self.key = self._make_tutor(ours)
        workers, processes = self._counts
        web, web_port = ours.web(processes)
        front, port = program.nginx(self.folder, web_port)
        # All of these only wait for the servers, so they load side by side.
        self._run(*(ours.worker(number + 1) for number in range(workers)), web)
        self._run(front)
        self.address = f"http://127.0.0.1:{port}"
        self.write_state()

    def _run(self, *parts: Part) -> None:
        self._stages.append(parts)
        for part in parts:
            self.parts[part.name] = part
            part.start()
        for part in parts:
            part.wait_ready()

    def _make_tutor(self, ours: Program) -> str:
        """The key of the tutor, who is made the first time: without one nobody is served."""
        kept = self.folder / KEY
        if not kept.exists():
            made = subprocess.run(  # noqa: S603 -- Our own command.
                program.command("tutor", "Tutor"),
                env={**os.environ, **ours.environment("web")},
                capture_output=True,
                text=True,
                check=False,
            )
            if made.returncode:
                raise PartFailed(made.stderr)
            kept.touch(0o600)
            kept.write_text(made.stdout)
        return kept.read_text().strip()

    def watch(self) -> None:
        """Start parts again that have ended; called now and then."""
        for part in self.parts.values():
            if part.alive:
                self._ended_at.pop(part.name, None)
                continue
            now = time.monotonic()
            if now - self._ended_at.setdefault(part.name, now) >= RESTART_PAUSE_S:
                part.start()
                self.write_state()

    def stop(self) -> None:
        """Stop all, those first that ask others: nobody is left to wait for what is gone."""
        for stage in reversed(self._stages):
            for part in stage:
                part.ask_to_stop()
            for part in stage:
                part.wait_stopped()

    def write_state(self) -> None:
        """Write addresses and process numbers for whoever looks from outside."""
        parts = {part.name: {"pid": part.pid, "log": str(part.log)} for part in self.parts.values()}
        state = {"address": self.address, "key_file": str(self.folder / KEY), "parts": parts}
        new = self.folder / f"{STATE}.new"
        new.write_text(json.dumps(state, indent=1))
        new.replace(self.folder / STATE)
