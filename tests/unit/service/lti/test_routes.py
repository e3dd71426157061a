"""Without the extra nothing of it is loaded, and its addresses say what to install."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from service.app import create_app
from service.lti import routes
from service.runtime.context import EXTENSION
from worker.settings import Settings

HERE = {"base_url": "http://127.0.0.1:8640"}
ASKED = [
    ("GET", "/lti/login"),
    ("POST", "/lti/login"),
    ("POST", "/lti/launch"),
    ("GET", "/lti/jwks"),
    ("POST", "/lti/renewals"),
    ("POST", "/lti/sign-in"),
    ("POST", "/lti/roster"),
]


def test_without_the_extra_each_address_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(routes, "find_spec", lambda _: None)
    app = create_app(Settings(data_dir=tmp_path))
    for method, path in ASKED:
        answer = app.test_client().open(path, method=method, **HERE)
        assert answer.status_code == 404, path
        assert answer.json is not None
        assert "pip install 'ricalco[lti]'" in answer.json["detail"], path
    app.extensions[EXTENSION].ledger.close()


def test_a_start_loads_nothing_of_it(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from service.app import create_app; "
        "from worker.settings import Settings; import worker.jobs.upkeep.sweeper; "
        f"create_app(Settings(data_dir=Path({str(tmp_path)!r}))); "
        "print([one for one in sys.modules if one.startswith(('joserfc', 'cryptography', "
        "'service.lti.views', 'worker.lti'))])"
    )
    said = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert said.stdout.strip() == "[]"
