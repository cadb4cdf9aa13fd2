"""A real server process that can be killed at any moment and started again."""

import os
import resource
import signal
import socket
import subprocess
import sys
import time
from contextlib import suppress
from http.client import HTTPConnection, HTTPException
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
START_SECONDS = 30


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Server:
    """gunicorn with two workers on loopback, in a process group of its own."""

    def __init__(self, environment: dict[str, str], log: Path) -> None:
        self.environment, self.log = environment, log
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        command = [
            *(sys.executable, "-m", "gunicorn", "--workers", "2", "--threads", "2"),
            *("--bind", f"127.0.0.1:{self.port}", "--reuse-port", "labcourse.wsgi"),
        ]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                command,
                cwd=ROOT,
                env=self.environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self._wait_until_it_answers()

    def _wait_until_it_answers(self) -> None:
        end = time.monotonic() + START_SECONDS
        while time.monotonic() < end:
            if self._answers():
                return
            time.sleep(0.05)
        raise TimeoutError(f"the server did not start; see {self.log}")

    def _answers(self) -> bool:
        connection = HTTPConnection("127.0.0.1", self.port, timeout=2)
        try:
            connection.request("GET", "/service-worker.js")
            with connection.getresponse() as answer:
                return answer.status == 200
        except (OSError, HTTPException):
            return False
        finally:
            connection.close()

    def limit_files(self, most_bytes: int) -> None:
        """What a full disk does: no file of the server, its log neither, grows beyond this."""
        assert self.process is not None
        group = (self.process.pid, *children_of(self.process.pid))
        for pid in group:
            resource.prlimit(pid, resource.RLIMIT_FSIZE, (most_bytes, resource.RLIM_INFINITY))

    def kill(self) -> None:
        """SIGKILL to the master and its workers together."""
        if self.process is None:
            return
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(timeout=10)
        self.process = None


def children_of(pid: int) -> list[int]:
    return [int(each) for each in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def manage(environment: dict[str, str], *arguments: str) -> str:
    """The output of a command of the program, run in a process of its own."""
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout
