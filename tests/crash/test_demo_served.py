"""The demo course is served while another process fills it: nobody waits, and both end at once."""

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, OpenerDirector, build_opener

import pytest

from workups.demo.build import PASSWORD

from .conftest import ON_POSTGRESQL
from .server import ROOT, free_port

PATIENCE_S = 100
pytestmark = pytest.mark.skipif(
    ON_POSTGRESQL, reason="the demo is on SQLite whatever the tests are on: run with those")


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


@contextmanager
def served(tmp_path: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """The demo from when another process has begun to fill it; nothing of it is left behind."""
    environment = {"PATH": os.environ["PATH"], "LOCAL_DIR": str(tmp_path),
                   "DATABASE_URL": f"sqlite:///{tmp_path / 'demo.sqlite3'}"}
    command = [sys.executable, "manage.py", "demo", "--students", "2", "--port", str(port)]
    with (tmp_path / "demo.log").open("wb") as log:
        server = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=log, stderr=log,
                                  start_new_session=True)
    try:
        while not any("--no-serve" in line for line in processes_of(server.pid)):
            assert server.poll() is None, (tmp_path / "demo.log").read_text()
            time.sleep(0.05)
        yield server
    finally:
        if processes_of(server.pid):
            os.killpg(server.pid, signal.SIGKILL)
        server.wait(PATIENCE_S)


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_no_process_is_left_behind(tmp_path: Path, ending: signal.Signals) -> None:
    with served(tmp_path, free_port()) as server:
        server.send_signal(ending)
        server.wait(PATIENCE_S)
        assert processes_of(server.pid) == []


def signed_in(port: int, name: str) -> str:
    """The first page of a person who signs in; HTTPError where that cannot be done."""
    browser: OpenerDirector = build_opener(HTTPCookieProcessor(CookieJar()))
    address = f"http://127.0.0.1:{port}/sign-in/"
    form = browser.open(address).read().decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', form)
    assert token
    sent = urlencode({"csrfmiddlewaretoken": token[1], "username": name, "password": PASSWORD})
    return str(browser.open(address, sent.encode()).read().decode())


def test_people_sign_in_while_it_is_filled(tmp_path: Path) -> None:
    """Each sign-in writes, and the other process may hold SQLite's one lock for a moment only."""
    port = free_port()
    with served(tmp_path, port):
        tried = 0
        while tried < 3:
            try:
                page = signed_in(port, ("instructor", "ta1", "student01")[tried % 3])
            except ConnectionError:
                continue
            except OSError as error:
                if "refused" in str(error):
                    continue
                raise
            assert "Sign out" in page
            tried += 1
