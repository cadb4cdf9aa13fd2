"""How many files a request enters: ``python -m pytest -s tests/bench/test_files_entered.py``.

Counted are modules of the program of which a function runs between request and answer; imports are
not. ``MOST`` holds what stands today, so that a way does not get longer unseen; what was asked is
in ``MEASURED.md``.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from django.urls import reverse

from workups.chemistry.compiled import load_all

ROOT = Path(__file__).parents[2]
PROGRAM = f"{ROOT / 'workups'}/"
MOST = {"self-check": 113, "lock-readings": 102}


@contextmanager
def entered() -> Iterator[Counter[str]]:
    """Calls of functions of the program by file."""
    calls: Counter[str] = Counter()

    def note(frame: FrameType, event: str, _argument: Any) -> None:
        code = frame.f_code
        if event == "call" and code.co_name != "<module>" and code.co_filename.startswith(PROGRAM):
            calls[code.co_filename.removeprefix(PROGRAM)] += 1

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        yield calls
    finally:
        sys.setprofile(before)


def measured(what: str, work: Callable[[], object]) -> Counter[str]:
    with entered() as calls:
        work()
    rooms = Counter(name.partition("/")[0] for name in calls)
    told = ", ".join(f"{room} {count}" for room, count in rooms.most_common())
    print(f"\n{what}: {len(calls)} files, {calls.total():,} calls ({told})")  # noqa: T201
    return calls


@pytest.mark.parametrize(("name", "stage"), [
    ("self-check", "planned_work"), ("lock-readings", "bench_work")])
def test_a_request_enters_no_more_files_than_it_did(
    request, client, student, monkeypatch, name, stage
):
    monkeypatch.setattr("workups.services.assessments.DRAWS", 4)
    work = request.getfixturevalue(stage)
    client.force_login(student, backend="django.contrib.auth.backends.ModelBackend")
    address = reverse(name, args=[work.public_id])
    load_all()  # as a server before its first request
    calls = measured(name, lambda: client.post(address))
    assert len(calls) <= MOST[name]
