"""A process that is forked while a thread writes must be able to write too."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

#: A thread holds the write lock for a while; the child that is forked meanwhile writes then.
SCRIPT = """
import os, sys, threading, time
import sqlalchemy as sa
from worker.store.ledger.database import database
from worker.store.ledger.database.database import Database

database.BUSY_MS = 1000
url = f"sqlite:///{sys.argv[1]}/ledger.db"
ours = Database(url)
with ours.writing() as connection:
    connection.execute(sa.text("CREATE TABLE t (x INTEGER)"))
begun, done = threading.Event(), threading.Event()

def write():
    with ours.writing() as connection:
        connection.execute(sa.text("INSERT INTO t VALUES (1)"))
        begun.set()
        done.wait(0.5)

thread = threading.Thread(target=write)
thread.start()
begun.wait()
child = os.fork()
if child == 0:
    time.sleep(1)
    theirs = Database(url)
    with theirs.writing() as connection:
        connection.execute(sa.text("INSERT INTO t VALUES (2)"))
    os._exit(0)
thread.join()
_, status = os.waitpid(child, 0)
sys.exit(os.waitstatus_to_exitcode(status))
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="This system forks no processes.")
def test_a_child_that_is_forked_during_a_write_can_write(tmp_path: Path) -> None:
    command = [sys.executable, "-W", "ignore", "-c", SCRIPT, str(tmp_path)]
    ended = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr
