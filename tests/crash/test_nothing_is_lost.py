"""What the program says is kept is there after a crash, and once.

Two students send plan changes and readings over loopback to a real server process, which is
killed with SIGKILL at random moments and started again; the clients send again what was not
answered, as the pages do. On PostgreSQL the database server is killed as well. SIGKILL takes the
process, not the machine: that a commit outlives a power cut rests on `synchronous=FULL` and fsync.
"""

import random
import time
from collections import Counter

import pytest

from tests.crash.writer import Writer, plan_sender, reading_sender
from tests.long import count

WRITES = count(60, 500)
KILLS = count(4, 40)
SECONDS = count(100, 900)

pytestmark = pytest.mark.timeout(SECONDS + 60)


def test_every_acknowledged_write_is_there_once(running):
    plans, readings = write_while_killing(running)
    running.server.kill()
    stored = running.read_back()
    assert_kept_once(plans.kept, stored["texts"][1:])
    assert stored["versions"] == list(range(1, len(stored["versions"]) + 1))
    found = [f"{token} {float(value):.2f}" for token, value in stored["readings"]]
    assert_kept_once(readings.kept, found)
    assert plans.unanswered + readings.unanswered > 0, "nothing was in the air when it was killed"


def write_while_killing(running):
    """Both writers to their end, while the server, and the database in turn, are killed."""
    end = time.monotonic() + SECONDS
    senders = [
        plan_sender(running.browser("plan"), running.work("plan")),
        reading_sender(running.browser("bench"), running.work("bench")),
    ]
    writers = [Writer(WRITES // 2, sender, end) for sender in senders]
    moments = random.Random(7)  # noqa: S311 (when to kill, repeatable)
    for writer in writers:
        writer.start()
    for number in range(KILLS):
        time.sleep(moments.uniform(0.05, 1.0))
        if not any(writer.is_alive() for writer in writers):
            break
        killed = running.cluster if running.cluster and number % 2 else running.server
        killed.kill()
        killed.start()
    for writer in writers:
        writer.join(max(0.0, end - time.monotonic()))
    assert [len(writer.kept) for writer in writers] == [WRITES // 2] * 2, "the time ran out"
    return writers


def assert_kept_once(acknowledged, stored):
    times = Counter(stored)
    assert [kept for kept in acknowledged if times[kept] != 1] == []
    assert set(times) == set(acknowledged), "something is stored that nobody sent"
