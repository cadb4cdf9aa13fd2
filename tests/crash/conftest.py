import json
import os
from dataclasses import dataclass

import pytest
from django.conf import settings

from tests.crash.postgresql import Cluster
from tests.crash.server import Server, manage
from tests.crash.writer import Browser

PREPARE = "from tests.crash.prepare import prepare; prepare()"
READ_BACK = "from tests.crash.prepare import read_back; read_back()"
ON_POSTGRESQL = settings.DATABASES["default"]["ENGINE"].endswith("postgresql")


@dataclass(frozen=True)
class Running:
    """A server over a database of its own, and two students: "plan" and "bench"."""

    server: Server
    cluster: Cluster | None
    environment: dict[str, str]
    clients: dict[str, dict[str, str]]

    def browser(self, who):
        return Browser(self.server.port, self.clients[who]["session"])

    def work(self, who):
        return self.clients[who]["work"]

    def read_back(self):
        """What is stored, read by a process that did not write it."""
        return json.loads(manage(self.environment, "shell", "-v", "0", "-c", READ_BACK))


@pytest.fixture
def cluster():
    """Where the tests run on PostgreSQL, a server of this test's own; None on SQLite."""
    if not ON_POSTGRESQL:
        yield None
        return
    cluster = Cluster()
    try:
        cluster.start()
        yield cluster
    finally:
        cluster.remove()


@pytest.fixture
def running(cluster, tmp_path):
    environment = {
        "PATH": os.environ["PATH"],
        "LOCAL_DIR": str(tmp_path),
        "DATABASE_URL": cluster.url if cluster else f"sqlite:///{tmp_path / 'kept.sqlite3'}",
    }
    manage(environment, "migrate", "-v", "0")
    clients = json.loads(manage(environment, "shell", "-v", "0", "-c", PREPARE))
    server = Server(environment, tmp_path / "server.log")
    try:
        server.start()
        yield Running(server, cluster, environment, clients)
    finally:
        server.kill()
