"""The process that fills the demo course ends with the server that it was started beside."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from .server import ROOT, free_port

PATIENCE_S = 100


def processes_of(session: int) -> list[str]:
    """Command lines of what runs in a session."""
    found = []
    for entry in Path("/proc").iterdir():
        try:
            # After the name in brackets: state, parent, group, session.
            fields = (entry / "stat").read_text().rpartition(")")[2].split()
            if entry.name.isdigit() and int(fields[3]) == session and fields[0] != "Z":
                found.append((entry / "cmdline").read_bytes().replace(b"\0", b" ").decode())
        except (OSError, ValueError, IndexError):
            continue
    return found


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_no_process_is_left_behind(tmp_path: Path, ending: signal.Signals) -> None:
    environment = {"PATH": os.environ["PATH"], "LOCAL_DIR": str(tmp_path),
                   "DATABASE_URL": f"sqlite:///{tmp_path / 'demo.sqlite3'}"}
    command = [sys.executable, "manage.py", "demo", "--students", "2", "--port", str(free_port())]
    with (tmp_path / "demo.log").open("wb") as log:
        served = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=log, stderr=log,
                                  start_new_session=True)
    try:
        while not any("--no-serve" in line for line in processes_of(served.pid)):
            assert served.poll() is None, (tmp_path / "demo.log").read_text()
            time.sleep(0.05)
        served.send_signal(ending)
        served.wait(PATIENCE_S)
        assert processes_of(served.pid) == []
    finally:
        if left := processes_of(served.pid):
            os.killpg(served.pid, signal.SIGKILL)
        assert left == []
