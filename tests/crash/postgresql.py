"""A PostgreSQL server of the test's own, which can be killed with all its processes."""

import os
import shutil
import signal
import subprocess
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from tests.crash.server import children_of, free_port

PROGRAMS = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
START_SECONDS = 30


class Cluster:
    """Data folder, port and process; commits reach the disk (fsync stays on)."""

    def __init__(self) -> None:
        self.home = Path(tempfile.mkdtemp(prefix="labcourse-crash."))
        self.port = free_port()
        if os.geteuid() == 0:
            shutil.chown(self.home, "postgres")
        self._run("initdb", "-U", "labcourse", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8")

    @property
    def url(self) -> str:
        return f"postgresql://labcourse@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        """Start, and again where the killed one's memory is not given back yet."""
        options = f"-p {self.port} -c listen_addresses=127.0.0.1"
        options += f" -c unix_socket_directories={self.home}"
        end = time.monotonic() + START_SECONDS
        while self._run("pg_ctl", "-w", "-l", str(self.home / "log"), "-o", options, "start",
                        check=time.monotonic() > end):
            time.sleep(0.2)

    def kill(self) -> None:
        """SIGKILL to the server and every process it has."""
        pid = int((self.home / "data" / "postmaster.pid").read_text().split()[0])
        for each in (pid, *children_of(pid)):
            with suppress(ProcessLookupError):
                os.kill(each, signal.SIGKILL)

    def remove(self) -> None:
        self._run("pg_ctl", "-m", "immediate", "-w", "stop", check=False)
        shutil.rmtree(self.home, ignore_errors=True)

    def _run(self, program: str, *arguments: str, check: bool = True) -> int:
        """Run one of PostgreSQL's programs; as root by its own user, since it refuses root."""
        command = [str(PROGRAMS[-1] / program), "-D", str(self.home / "data"), *arguments]
        if os.geteuid() == 0:
            user = ["--reuid", "postgres", "--regid", "postgres", "--init-groups"]
            command = ["setpriv", *user, *command]
        with (self.home / "commands").open("ab") as log:
            done = subprocess.run(
                command, cwd=self.home, stdout=log, stderr=log, timeout=60, check=check
            )
        return done.returncode
