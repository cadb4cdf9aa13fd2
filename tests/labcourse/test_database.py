"""What the settings promise of the database."""

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from django.db import connection, transaction

from workups.models import Course

ROOT = Path(__file__).resolve().parents[2]
PRAGMAS = """
from django.db import connection
cursor = connection.cursor()
for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout"):
    print(name, cursor.execute(f"PRAGMA {name}").fetchone()[0])
"""


@pytest.mark.django_db(transaction=True)
def test_writers_wait_for_each_other_and_lose_nothing():
    course = Course.objects.create(title="Counted", term="0")

    def count_up(times):
        try:
            for _ in range(times):
                with transaction.atomic():
                    counted = Course.objects.select_for_update().get(pk=course.pk)
                    counted.term = str(int(counted.term) + 1)
                    counted.save()
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(count_up, [25] * 4))
    course.refresh_from_db()
    assert course.term == "100"


def test_a_local_installation_commits_to_the_disk(tmp_path):
    environment = {"PATH": os.environ["PATH"], "LOCAL_DIR": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "manage.py", "shell", "-v", "0", "-c", PRAGMAS],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    # synchronous 2 is FULL.
    assert done.stdout.split("\n")[:4] == [
        "journal_mode wal",
        "synchronous 2",
        "foreign_keys 1",
        "busy_timeout 20000",
    ]
