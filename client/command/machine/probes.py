"""The probes of `ricalco check`: each gives a finding, and says how to mend it."""

from __future__ import annotations

import os
import platform
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib import import_module
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

from ricalco_client.api import Ricalco
from ricalco_client.errors import ClientError
from worker.errors import PortTaken, RicalcoError

if TYPE_CHECKING:
    from worker.settings import Settings
    from worker.store.ledger import Ledger

_OLDEST_PYTHON = (3, 11)
#: The pack of a mural and its master together need far less.
_LEAST_FREE_BYTES = 500_000_000
#: Package, and a module that it installs.
_PACKAGES = {
    "Pillow": "PIL",
    "pillow-heif": "pillow_heif",
    "numpy": "numpy",
    "reportlab": "reportlab.pdfgen.canvas",
    "pypdfium2": "pypdfium2",
    "uharfbuzz": "uharfbuzz",
    "SQLAlchemy": "sqlalchemy",
    "alembic": "alembic",
    "celery": "celery",
    "Flask": "flask",
    "waitress": "waitress",
}
_REINSTALL = "run bash deploy/run.sh check again, or pip install --force-reinstall ricalco"


@dataclass(frozen=True)
class Finding:
    """The result of one probe.

    Attributes:
        what: What was probed.
        found: What was found.
        good: Whether that is as it should be.
        mend: What to do if not.
    """

    what: str
    found: str
    good: bool
    mend: str = ""


def mark(finding: Finding) -> str:
    """The mark of a finding in the table for people."""
    return "ok" if finding.good else "MEND"


def all_findings(service: str | None) -> list[Finding]:
    """The findings of all probes; a probe that fails is a finding and never an error."""
    findings = [_python(), *_packages(), *_machine()]
    return [*findings, _service(service)] if service else findings


def _python() -> Finding:
    good = sys.version_info >= _OLDEST_PYTHON
    return Finding("Python", platform.python_version(), good, "install Python 3.11 or newer")


def _packages() -> Iterator[Finding]:
    for package, module in _PACKAGES.items():
        try:
            import_module(module)
        except (ImportError, OSError) as error:
            yield Finding(package, f"does not load: {error}", good=False, mend=_REINSTALL)
        else:
            yield Finding(package, version(package), good=True)


def _machine() -> Iterator[Finding]:
    from worker.settings import Settings

    try:
        settings = Settings.from_env()
    except RicalcoError as error:
        mend = f"change or unset {error.field}"
        yield Finding("settings", error.detail, good=False, mend=mend)
        return
    yield Finding("settings", _settings_in_use(os.environ), good=True)
    yield _probe("data folder", lambda: _writable(settings.data_dir), "set RICALCO_DATA_DIR")
    yield _probe("temporary folder", lambda: _writable(Path(tempfile.gettempdir())), "set TMPDIR")
    yield _disk_space(settings.data_dir)
    yield _probe("files", lambda: _files(settings), "set RICALCO_STORAGE_URL, or unset it")
    yield _probe("ledger", lambda: _ledger(settings), "set RICALCO_DATABASE_URL, or unset it")
    yield _ledger_content(settings)
    yield from _parts_of_ledger(settings)
    yield _privacy(settings)
    yield _probe("queue", lambda: _queue(settings), "start the broker, or unset RICALCO_BROKER_URL")
    yield _probe("address", lambda: _address(settings), "set RICALCO_HOST or RICALCO_PORT")


def _settings_in_use(environ: Mapping[str, str]) -> str:
    """The settings that differ from the defaults; of secrets and of URLs with them, the names."""
    from worker.settings import TABLE

    made = [
        line.variable
        if line.kind in {"url", "secret"}
        else f"{line.variable}={environ[line.variable].strip()}"
        for line in TABLE
        if environ.get(line.variable, "").strip()
    ]
    return ", ".join([*made, "all others usual"]) if made else "all usual"


def _probe(what: str, probe: Callable[[], str], mend: str) -> Finding:
    try:
        return Finding(what, probe(), good=True)
    except RicalcoError as error:
        return Finding(what, error.detail, good=False, mend=mend)
    except Exception as error:  # noqa: BLE001 -- Libraries raise errors of their own; all are findings.
        first = (str(error) or type(error).__name__).splitlines()[0]
        return Finding(what, first, good=False, mend=mend)


def _writable(folder: Path) -> str:
    """Writes and removes a file in the nearest existing folder."""
    nearest = next(parent for parent in (folder, *folder.parents) if parent.exists())
    with tempfile.TemporaryFile(dir=nearest) as file:
        file.write(b"ricalco")
    return f"{folder} can be written"


def _files(settings: Settings) -> str:
    """Writes, reads and deletes a small file, where files are kept already."""
    from worker.store.files import open_storage

    if settings.storage_url or (settings.data_dir / "files").exists():
        open_storage(settings).check()
    return "where RICALCO_STORAGE_URL says" if settings.storage_url else "in the data folder"


def _disk_space(folder: Path) -> Finding:
    nearest = next(parent for parent in (folder, *folder.parents) if parent.exists())
    free = shutil.disk_usage(nearest).free
    found = f"{free / 1e9:.1f} GB free"
    good = free > _LEAST_FREE_BYTES
    if not good:
        found += "; packs may have to wait for room"
    return Finding("disk", found, good, "make room, or delete photos and packs in Ricalco")


def _ledger(settings: Settings) -> str:
    """Connects to the ledger, if there is one; none is made."""
    if not settings.database_url and not (settings.data_dir / "ledger.db").exists():
        return "none yet; made at the first start"
    import sqlalchemy

    engine = sqlalchemy.create_engine(settings.ledger_url)
    with engine.connect() as connection:
        connection.execute(sqlalchemy.text("SELECT 1"))
    engine.dispose()
    return str(engine.url)


def _ledger_content(settings: Settings) -> Finding:
    """Checks the whole SQLite ledger; a PostgreSQL server looks after its own files."""
    from worker.store.ledger.disk.integrity import find_damage, repair_advice

    file, what = _ledger_file(settings), "ledger's content"
    if file is None:
        return Finding(what, "looked after by its server", good=True)
    found = find_damage(file, whole=True)
    return Finding(what, f"damaged: {found}" if found else "sound", not found, repair_advice(file))


def _parts_of_ledger(settings: Settings) -> Iterator[Finding]:
    """Migrations, clock and workers, as a ledger that is there tells them."""
    from contextlib import closing

    from service.supervisor.supervise import answers
    from worker.jobs.worker_presence import check_workers
    from worker.store.ledger import open_ledger

    if not settings.database_url and not (settings.data_dir / "ledger.db").exists():
        return

    def probe(check: Callable[[Ledger], object], well: str) -> Callable[[], str]:
        def look() -> str:
            with closing(open_ledger(settings)) as ledger:
                check(ledger)
            return well

        return look

    outdated = probe(lambda ledger: ledger.check_step(), "all made")
    yield _probe("migrations", outdated, "restart the service, which brings the ledger up to date")
    differs = probe(lambda ledger: ledger.check_clock(), "the ledger's is the same")
    yield _probe("clock", differs, "let this machine and the ledger's set their clocks by NTP")
    if settings.one_machine and not answers(settings):
        yield Finding("workers", "the service is not running", good=True)
        return
    lives = probe(lambda ledger: check_workers(settings, ledger), "seen lately")
    yield _probe("workers", lives, "start ricalco worker, and look into its log")


def _ledger_file(settings: Settings) -> Path | None:
    """The file of a SQLite ledger; None for another database."""
    import sqlalchemy

    url = sqlalchemy.make_url(settings.ledger_url)
    sqlite = url.get_backend_name() == "sqlite" and url.database
    return Path(str(url.database)) if sqlite else None


def _privacy(settings: Settings) -> Finding:
    """Whether other accounts of this machine may read ledger and files."""
    from worker.store.files.privacy import is_open_to_others

    paths = (settings.data_dir, settings.data_dir / "files", _ledger_file(settings))
    opened = [str(path) for path in paths if path and is_open_to_others(path)]
    found = f"others may read {', '.join(opened)}" if opened else "closed to other accounts"
    mend = f"start the service as the user who owns it, or chmod -R go= {settings.data_dir}"
    return Finding("privacy", found, not opened, mend)


def _queue(settings: Settings) -> str:
    if settings.one_machine:
        return "on this machine, no broker needed"
    from kombu.connection import Connection

    with Connection(settings.broker_url, connect_timeout=3) as broker:
        broker.ensure_connection(max_retries=1, timeout=3)
        return f"{broker.as_uri()} answers"


def _address(settings: Settings) -> str:
    """Listens at the address as the service does, and closes at once."""
    from service.http.requests.host_guard import require_tutor
    from service.serving.listening import listen
    from service.supervisor.supervise import address, answers

    require_tutor(settings)
    place = address(settings)
    try:
        listen(settings).close()
    except PortTaken:
        if answers(settings):
            return f"{place}: Ricalco is running there"
        raise
    return f"{place} is free"


def _service(url: str) -> Finding:
    mend = "start it with ricalco serve, or correct the address"

    def probe() -> str:
        Ricalco(url, timeout=(3.0, 5.0)).healthy()
        return f"{url} answers"

    try:
        return Finding("service", probe(), good=True)
    except ClientError as error:
        return Finding("service", error.detail, good=False, mend=mend)
