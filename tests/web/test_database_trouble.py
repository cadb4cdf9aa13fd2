"""A full disk, a read-only database: a plain answer, and nothing half-written.

A database that is gone, and a disk that is full under a running server, are in `tests/crash`.
"""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from workups.models import AuditEntry, PlanRevision, Reading, Work

pytestmark = pytest.mark.django_db(transaction=True)
ON_SQLITE = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="an SQLite pragma")


@pytest.fixture
def client_of(student):
    client = Client(raise_request_exception=False)
    client.force_login(student, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def read_only():
    """Every write is refused by the database itself."""
    ways = {
        "sqlite": ("PRAGMA query_only=ON", "PRAGMA query_only=OFF"),
        "postgresql": (
            "SET SESSION CHARACTERISTICS AS TRANSACTION READ ONLY",
            "SET SESSION CHARACTERISTICS AS TRANSACTION READ WRITE",
        ),
    }
    on, off = ways[connection.vendor]
    run(on)
    yield
    run(off)


def run(sql):
    with connection.cursor() as cursor:
        cursor.execute(sql)


def stored():
    """How many rows there are of what the pages below write, and where the works are."""
    works = list(Work.objects.order_by("pk").values_list("bench_record", "report_submitted_at"))
    counts = [model.objects.count() for model in (Reading, PlanRevision, AuditEntry)]
    return counts, works


def writes(work):
    """Addresses and forms that write: one row; several; a report with its assessment."""
    args = [work.public_id]

    def entry(*what):
        return reverse("record-entry", args=[*args, *what])

    token = str(uuid4())
    weighing = {"kind": "tare", "mass": "45.30", "on_pan": ["flask"]}
    drying = {"agent_mass": "3.0", "agent_portions": "2", "agent_look": "clumped"}
    return [
        (entry("weighing", "hexyl_acetate"), {**weighing, "client_token": token}),
        (entry("drying", "dry"), {**drying, "client_token": token}),
        (reverse("lock-readings", args=args), {}),
    ]


def says_so(page):
    text = page.content.decode()
    return (
        page.status_code == 503
        and "What you sent was not saved" in text
        and page.headers["Retry-After"] == "60"
        and "Traceback" not in text
    )


def test_a_read_only_database_is_said_and_pages_can_still_be_read(client_of, bench_work, read_only):
    before = stored()
    for url, data in writes(bench_work):
        assert says_so(client_of.post(url, data)), url
    assert client_of.get(reverse("show-bench", args=[bench_work.public_id])).status_code == 200
    assert stored() == before


def test_that_a_device_is_in_use_need_not_be_noted(client_of, read_only, time_machine):
    """It is, once an hour; where it cannot be, pages are shown all the same."""
    used = client_of.session["device"]["used"]
    time_machine.move_to(timezone.now() + timedelta(hours=2))
    assert client_of.get(reverse("show-profile")).status_code == 200
    assert client_of.session["device"]["used"] == used


def test_signing_in_is_refused_with_the_same_words(student, read_only):
    client = Client(raise_request_exception=False)
    form = {"username": student.sign_in, "password": "correct horse"}
    assert says_so(client.post(reverse("sign-in"), form))


def test_afterwards_the_same_form_is_stored_once(client_of, bench_work, read_only):
    ((url, data), *_) = writes(bench_work)
    assert says_so(client_of.post(url, data))
    run("PRAGMA query_only=OFF" if connection.vendor == "sqlite" else
        "SET SESSION CHARACTERISTICS AS TRANSACTION READ WRITE")
    assert client_of.post(url, data).status_code == 302
    assert client_of.post(url, data).status_code == 302
    assert Reading.objects.count() == 1


@ON_SQLITE
def test_a_full_disk_stops_in_the_middle_and_takes_all_of_it_back(client_of, bench_work):
    """SQLite may not grow by a page more: what it answers on a full disk."""
    ((url, data), *_) = writes(bench_work)
    run("VACUUM")
    with connection.cursor() as cursor:
        pages = cursor.execute("PRAGMA page_count").fetchone()[0]
        cursor.execute(f"PRAGMA max_page_count={pages}")
    try:
        accepted, refused = fill_up(client_of, url, data)
    finally:
        run("PRAGMA max_page_count=1073741823")
    assert says_so(refused)
    assert Reading.objects.count() == accepted


def fill_up(client, url, data):
    """Send readings until one is refused; how many were accepted, and the refusal."""
    for accepted in range(500):
        answer = client.post(url, {**data, "client_token": str(uuid4()), "balance": "B" * 60})
        if answer.status_code != 302:
            return accepted, answer
    raise AssertionError("the disk never became full")


def test_a_mistake_of_ours_is_still_a_mistake_of_ours(client_of, bench_work, monkeypatch):
    def fail(*_args, **_kwargs):
        raise ValueError

    monkeypatch.setattr("workups.web.bench.views.bench_context", fail)
    answer = client_of.get(reverse("show-bench", args=[bench_work.public_id]))
    assert answer.status_code == 500
    assert "went wrong on our side" in answer.content.decode()
