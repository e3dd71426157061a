"""`ricalco serve`, `ricalco web` and `ricalco worker`: the long-running processes."""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from worker.settings import Settings

DATA_DIR = click.option(
    "--data-dir", type=click.Path(path_type=Path), help="Folder of ledger and files."
)


@click.command("serve")
@click.option("--host", help="Address to listen on (default: 127.0.0.1).")
@click.option("--port", type=click.IntRange(1, 65535), help="Port (default: 8640).")
@DATA_DIR
def serve(**options: Any) -> None:
    """Start the service and its workers; Ctrl-C stops both.

    With RICALCO_BROKER_URL set it starts the web only: start `ricalco worker` beside it,
    as often and on as many machines as you like. Every RICALCO_ setting counts; options
    given here come first.
    """
    from client.web import FOLDER
    from service.supervisor.supervise import supervise

    settings = settings_of(options)
    page_dir = settings.page_dir or FOLDER
    raise SystemExit(supervise(replace(settings, page_dir=page_dir)))


@click.command("web")
@DATA_DIR
def web(**options: Any) -> None:
    """Start the web alone, in several processes, behind a proxy.

    gunicorn starts them and replaces one that ends (`pip install 'ricalco[gunicorn]'`). SIGHUP
    has all replaced, one after the other, and SIGTERM ends them; what is under way is answered.
    Packs are made by `ricalco worker`.
    """
    from importlib.util import find_spec

    from client.web import FOLDER
    from service.supervisor.supervise import FEW_HEAPS
    from worker.errors import SettingInvalid

    if find_spec("gunicorn") is None:
        message = "gunicorn is not installed: pip install 'ricalco[gunicorn]'."
        raise SettingInvalid(message)
    settings = settings_of(options)
    page_dir = settings.page_dir or FOLDER
    os.environ.update({**FEW_HEAPS, **os.environ, **replace(settings, page_dir=page_dir).to_env()})
    module = "python:service.web_processes.config"
    # gunicorn takes this process's place, so that signals reach it.
    os.execv(sys.executable, [sys.executable, "-m", "gunicorn", "--config", module])  # noqa: S606


@click.command("worker")
@DATA_DIR
def worker(**options: Any) -> None:
    """Start a worker for a service elsewhere.

    RICALCO_BROKER_URL, RICALCO_DATABASE_URL and RICALCO_STORAGE_URL say where; they are the
    same as the service's.
    """
    from worker.jobs.process import run

    raise SystemExit(run(settings_of(options)))


def settings_of(options: dict[str, Any]) -> Settings:
    """The settings of the environment, overridden by the options of a command."""
    from worker.settings import Settings

    given = {name: value for name, value in options.items() if value is not None}
    if "data_dir" in given:
        given["data_dir"] = given["data_dir"].expanduser().absolute()
    settings = replace(Settings.from_env(os.environ), **given)
    os.environ.update(settings.to_env())
    return settings
