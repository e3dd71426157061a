"""A socket where the settings say, or a sentence that says what to set."""

from __future__ import annotations

import socket
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from service.serving.listening import listen
from tests.servers.ports import free_port
from worker.errors import PortTaken, SettingInvalid
from worker.settings import Settings


def test_it_listens_where_the_settings_say(tmp_path: Path) -> None:
    port = free_port()
    with (
        closing(listen(Settings(data_dir=tmp_path, port=port))),
        socket.create_connection(("127.0.0.1", port), timeout=10) as caller,
    ):
        assert caller.getpeername() == ("127.0.0.1", port)


def test_a_port_that_is_taken_is_told_by_its_setting(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(PortTaken, match=f"Port {port} .*RICALCO_PORT") as told:
            listen(Settings(data_dir=tmp_path, port=port))
    assert told.value.field == "RICALCO_PORT"


def test_what_is_no_address_is_told_by_its_setting(tmp_path: Path) -> None:
    with pytest.raises(SettingInvalid, match="is no address") as told:
        listen(Settings(data_dir=tmp_path, host="256.256.256.256"))
    assert told.value.field == "RICALCO_HOST"


def test_the_supervisor_loads_no_application() -> None:
    """It is started before web and worker, which load it for themselves."""
    script = "import sys, service.supervisor.supervise; print(*sys.modules, sep='\\n')"
    loaded = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    ).stdout.split()
    assert "service.serving.listening" in loaded
    assert not {"service.app", "service.web", "numpy", "PIL", "sqlalchemy"} & set(loaded)
