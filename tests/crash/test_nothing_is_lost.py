"""What the program says is kept is there after a crash, and once.

Two students send plan changes and readings over loopback to a real server process, which is
killed with SIGKILL at random moments and started again; the clients send again what was not
answered, as the pages do. On PostgreSQL the database server is killed as well. SIGKILL takes the
process, not the machine: that a commit outlives a power cut rests on `synchronous=FULL` and fsync.
"""

import json
import os
import random
import time
from collections import Counter

import pytest
from django.conf import settings

from tests.crash.postgresql import Cluster
from tests.crash.server import Server, manage
from tests.crash.writer import Browser, Writer, plan_sender, reading_sender
from tests.long import count

WRITES = count(60, 500)
KILLS = count(4, 40)
SECONDS = count(100, 900)
PREPARE = "from tests.crash.prepare import prepare; prepare()"
READ_BACK = "from tests.crash.prepare import read_back; read_back()"
ON_POSTGRESQL = settings.DATABASES["default"]["ENGINE"].endswith("postgresql")

pytestmark = pytest.mark.timeout(SECONDS + 60)


@pytest.fixture
def database_url(tmp_path):
    """SQLite as shipped, or where the tests run on PostgreSQL a server of this test's own."""
    if not ON_POSTGRESQL:
        yield f"sqlite:///{tmp_path / 'kept.sqlite3'}"
        return
    cluster = Cluster()
    try:
        cluster.start()
        yield cluster
    finally:
        cluster.remove()


def test_every_acknowledged_write_is_there_once(database_url, tmp_path):
    cluster = database_url if isinstance(database_url, Cluster) else None
    url = cluster.url if cluster else database_url
    environment = {
        "PATH": os.environ["PATH"],
        "LOCAL_DIR": str(tmp_path),
        "DATABASE_URL": url,
    }
    manage(environment, "migrate", "-v", "0")
    clients = json.loads(manage(environment, "shell", "-v", "0", "-c", PREPARE))
    server = Server(environment, tmp_path / "server.log")
    try:
        server.start()
        writers = write_while_killing(server, cluster, clients)
    finally:
        server.kill()
    stored = json.loads(manage(environment, "shell", "-v", "0", "-c", READ_BACK))
    plans, readings = writers
    assert_kept_once(plans.kept, stored["texts"][1:])
    assert stored["versions"] == list(range(1, len(stored["versions"]) + 1))
    found = [f"{token} {float(value):.2f}" for token, value in stored["readings"]]
    assert_kept_once(readings.kept, found)
    assert plans.unanswered + readings.unanswered > 0, "nothing was in the air when it was killed"


def write_while_killing(server, cluster, clients):
    """Both writers to their end, while the server, and the database in turn, are killed."""
    end = time.monotonic() + SECONDS
    plan, bench = clients["plan"], clients["bench"]
    writers = [
        Writer(WRITES // 2, plan_sender(Browser(server.port, plan["session"]), plan["work"]), end),
        Writer(
            WRITES // 2, reading_sender(Browser(server.port, bench["session"]), bench["work"]), end
        ),
    ]
    moments = random.Random(7)  # noqa: S311 (when to kill, repeatable)
    for writer in writers:
        writer.start()
    for number in range(KILLS):
        time.sleep(moments.uniform(0.05, 1.0))
        if not any(writer.is_alive() for writer in writers):
            break
        if cluster is not None and number % 2:
            cluster.kill()
            cluster.start()
        else:
            server.kill()
            server.start()
    for writer in writers:
        writer.join(max(0.0, end - time.monotonic()))
    assert [len(writer.kept) for writer in writers] == [WRITES // 2] * 2, "the time ran out"
    return writers


def assert_kept_once(acknowledged, stored):
    times = Counter(stored)
    assert [kept for kept in acknowledged if times[kept] != 1] == []
    assert set(times) == set(acknowledged), "something is stored that nobody sent"
