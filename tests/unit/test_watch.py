"""What watches over the checks ends what hangs, and leaves what is only slow alone."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
#: As deploy/test.sh has it, with seconds for its half hour.
WATCHED = """
. deploy/watch.sh
silent_s=5 patience_s=1
( unless_silent "$0" "$@" ) </dev/null 2>&1 | tee "$0"
exit "${PIPESTATUS[0]}"
"""
SLOW = "import time\nfor _ in range(14): print('.', flush=True); time.sleep(0.5)"
SILENT = """
import time
print("begun", flush=True)
try:
    time.sleep(600)
except KeyboardInterrupt:
    print("tells what ran")
"""
DEAF = "import signal, time; signal.signal(signal.SIGINT, signal.SIG_IGN); time.sleep(600)"


@pytest.mark.parametrize(
    ("program", "code", "told"),
    [
        (SLOW, 0, ".\n" * 14),
        ("raise SystemExit(3)", 3, ""),
        (SILENT, 124, "Nothing was printed for 5 s: it hangs, and is ended.\ntells what ran"),
        (DEAF, 124, "it hangs, and is ended."),
    ],
    ids=["slow", "fails", "silent", "deaf"],
)
def test_only_silence_ends_a_command(tmp_path: Path, program: str, code: int, told: str) -> None:
    log = tmp_path / "log"
    log.touch()
    command = ["bash", "-c", WATCHED, str(log), sys.executable, "-c", program]
    ended = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert (ended.returncode, ended.stderr) == (code, "")
    assert told in ended.stdout
