"""Runs tests again and again, each time in a process forked from one that has all loaded but what
is tried: Django, the tables and the chemistry. For `tests/mutation.py`, from a copy of the tree:

``python -m tests.forked_runs`` says which modules it has loaded, and where a change would not be
seen; then it reads lines of test files, and answers each with ``0`` where all passed.
"""

import json
import os
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import django
import pytest

MOST_S = 600.0


def load() -> None:
    """What every run needs, and its machine code."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcourse.settings")
    django.setup()
    from workups.chemistry.draws import Draws
    from workups.chemistry.run import simulate
    from workups.documents import library_exercise

    exercise = library_exercise("too-much-vinegar")
    simulate(exercise.model_plan, exercise.setup, Draws(1, 4))


def make_tables(file: Path) -> None:
    """Migrate once, into a file that each run gets a copy of."""
    from django.conf import settings
    from django.db import connections
    from django.test.utils import setup_databases

    settings.DATABASES["default"]["TEST"]["NAME"] = str(file)
    setup_databases(verbosity=0, interactive=False)
    connections.close_all()


def copies_of(file: Path) -> None:
    """Let the tests have a copy instead of migrating."""
    from django.db import connection
    from django.test import utils

    def take_copy(**_named: Any) -> list[Any]:
        mine = Path(tempfile.mkdtemp(dir=file.parent)) / "tests.sqlite3"
        shutil.copy(file, mine)
        connection.close()
        connection.settings_dict["NAME"] = str(mine)
        return []

    utils.setup_databases = take_copy  # type: ignore[assignment]
    utils.teardown_databases = lambda *_given, **_named: None  # type: ignore[assignment]


def run(files: list[str]) -> int:
    """In a process of its own; 1 where it fails or hangs."""
    child = os.fork()
    if child == 0:
        os.setsid()
        silent = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(silent, stream)
        os._exit(int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", *files])))
    end = time.monotonic() + MOST_S
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return 1


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        load()
        file = Path(folder) / "tables.sqlite3"
        make_tables(file)
        copies_of(file)
        print(json.dumps([name for name in sys.modules if "workups" in name]), flush=True)  # noqa: T201
        for line in sys.stdin:
            print(run(json.loads(line)), flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
