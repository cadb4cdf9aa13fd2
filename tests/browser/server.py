"""The program in a process of its own, on the tests' database; it can be killed."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Mapping

import pytest
from django.conf import settings


def wait_until(true: Callable[[], bool], seconds: float = 20) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if true():
            return
        time.sleep(0.05)
    pytest.fail("It did not come about in time.")


def url_of_the_tests_database() -> str:
    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        return f"sqlite:///{database['NAME']}"
    return "postgresql://{USER}@{HOST}:{PORT}/{NAME}".format(**database)


class Server:
    """gunicorn with one worker on a port of its own; `environment` is added to ours."""

    def __init__(self, environment: Mapping[str, str] | None = None) -> None:
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self.environment = {
            **os.environ,
            "DATABASE_URL": url_of_the_tests_database(),
            **(environment or {}),
        }
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def manage(self, *arguments: str) -> None:
        self._run("manage.py", *arguments).wait(120)

    def start(self) -> None:
        self.process = self._run(
            "-m", "gunicorn", "labcourse.wsgi", "--workers", "1",
            "--bind", f"127.0.0.1:{self.port}", "--log-level", "warning",
        )  # fmt: skip
        wait_until(self._answers, 60)

    def kill(self) -> None:
        if self.process is None:
            return
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.process = None

    def _run(self, *command: str) -> "subprocess.Popen[bytes]":
        return subprocess.Popen(
            [sys.executable, *command],
            cwd=settings.BASE_DIR,
            env=self.environment,
            stdout=subprocess.DEVNULL,
            start_new_session=True,
        )

    def _answers(self) -> bool:
        try:
            socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
        except OSError:
            return False
        return True
