"""What is typed at the bench and into a plan, just inside and just outside its bounds.

The forms are read from the pages as a browser reads them; what their attributes say is where their
bounds are looked for. No value is a server error: it is stored, or refused in words.
"""

import importlib
import inspect
import pkgutil
import re
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django import forms
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.entries import enter
from tests.fuzz.forms import Field, Form, forms_of
from tests.web.walker import name_of
from workups import web
from workups.chemistry.fields import MAX_STEPS, NOTE_LENGTH
from workups.documents import plan_to_data
from workups.documents.limits import MAX_PORTIONS
from workups.models import BenchStep, PlanRevision, Reading, ReadingKind
from workups.selectors.plans import current_plan
from workups.services.bench import start_bench
from workups.services.entries import EntryOrigin, ReadingValues
from workups.services.plan_edits import add_step
from workups.services.planning import PlanIsTooLarge, edit_plan, save_plan, submit_plan
from workups.web.authoring.forms import LocalDateTimeField
from workups.web.bench.entries import CORRECT, KINDS

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("few_draws")]

TARGET = "hexyl_acetate"
# Pages whose forms are sent, and what their names take beside the work.
BENCH_PAGES = (
    ("show-offline-bench",),
    ("show-bench",),
    ("record-entry", "reagents"),
    ("record-entry", "drying", "dry"),
    ("type-sheet",),
    ("set-station-pin",),
)
PLAN_PAGES = (("build-plan",), ("fill-reagents",), ("submit-plan",))
SOMEBODYS = "c00ab5d0-fce3-4b1e-bd80-c7cc9527bffa"
REPLAY = re.compile(r"(?<=/)bench/.*")
# Forms that do much more than store what they hold.
LEFT_ALONE = ("sign-out", "colour", "/lock/", "/plan/submit/", "self-check")
NUMBERS = ("0.333333", "0.3333333", "20000.000001", "999999999.999999", "9999999999")
DATES = (
    "0001-01-01T00:00:00Z",
    "0001-01-01T00:00",
    "9999-12-31T23:59:00Z",
    "9999-12-31T23:59:59.999999-23:59",
    "1970-01-01T00:00:00Z",
    "2026-02-30T00:00:00Z",
)
OFFSETS = ("0", "86400", "-86400", "316224000", "-316224000", "316224001", "9" * 12)


def url_of(name, work, *rest):
    return reverse(name, args=[work.public_id, *rest])


def plausible(control: Field) -> str:
    """What somebody would put there, so that the form is about the one field that is tried."""
    said = control.said
    offered = [value for value in control.offered if value]
    if control.name == "client_token":
        return str(uuid4())
    if said.get("type") in ("hidden", "radio", "checkbox", "submit") or "value" in said:
        return offered[0] if offered else ""
    if offered:
        return offered[-1]
    if said.get("inputmode") == "decimal":
        exact = re.search(r"\\d\{(\d+)\}\\s", said.get("pattern", ""))
        return f"{20 + len(control.name) / 100:.{int(exact[1]) if exact else 0}f}"
    return "1" if said.get("inputmode") == "numeric" else "seen"


def tried(control: Field) -> tuple[str, ...]:
    """Values on both sides of each bound that the control's attributes name."""
    said = control.said
    if control.name == "device_at":
        return DATES
    if control.name == "device_offset_s":
        return OFFSETS
    if said.get("inputmode") in ("decimal", "numeric"):
        return NUMBERS
    longest = int(said.get("maxlength") or NOTE_LENGTH)
    return ("x" * longest, "\U0001f9ea" * (longest + 1), "\x00")


def is_tried(form: Form) -> bool:
    return form.method == "post" and not any(part in form.url for part in LEFT_ALONE)


def kind_of(name: str) -> str:
    """Fields of one kind are tried once: the printed sheet has each for every step and target."""
    return name.split("--", maxsplit=1)[0]


def rows_of(model) -> int:
    return model.objects.count()


class TakeBack(Exception):
    """Ends a transaction and takes back what a request did."""


def stores(client: Client, form: Form, data: dict[str, str]) -> int:
    """In how many ways the form is stored: as it is, and as a device's queue sends it."""
    ways = int(sends(client, form.url, data))
    if "data-entry" in form.said:
        about = {f"queue-{key}": form.said.get(f"data-{key}", "") for key in ("entry", "about")}
        ways += sends(client, REPLAY.sub("bench/replay/", form.url), {**data, **about})
    return ways


def sends(client: Client, url: str, data: dict[str, str]) -> bool:
    """Send it in a transaction that is taken back; whether it added a row that counts."""
    counted = (Reading, BenchStep, PlanRevision)
    before = [rows_of(model) for model in counted]
    added = False
    with suppress(TakeBack), transaction.atomic():
        answer = client.post(url, data)
        assert answer.status_code < 500, f"{url}: {answer.status_code} for {data!r}"
        added = [rows_of(model) for model in counted] != before
        raise TakeBack
    return added


def walk(client: Client, pages: list[str]) -> tuple[int, int]:
    """Every field of every form of these pages; how many forms, how often stored as filled in."""
    seen: dict[tuple[str, ...], Form] = {}
    for url in pages:
        for form in forms_of(url, client.get(url).content.decode()):
            if is_tried(form):
                seen.setdefault((name_of(form.url), *sorted(form.fields)), form)
    stored, clocks = 0, {"device_at", "device_offset_s"}
    for form in seen.values():
        usual = {name: plausible(control) for name, control in form.fields.items()}
        usual.pop("csrfmiddlewaretoken", None)
        stored += stores(client, form, usual)
        kinds = {kind_of(name): name for name in usual}
        for name in kinds.values():
            control = form.fields[name]
            if control.offered and control.said.get("type") != "hidden":
                continue
            if name.startswith("device_") and name not in clocks:
                continue  # the same two fields in every form
            clocks.discard(name)
            for value in tried(control):
                stores(client, form, {**usual, name: value})
    return len(seen), stored


@pytest.mark.timeout(600)
def test_no_field_of_the_bench_is_a_server_error(sign_in, student, bench_work):
    enter(
        bench_work.bench_record,
        EntryOrigin(by=student, client_token=uuid4()),
        ReadingValues(kind=ReadingKind.AGENT_MASS, step_id="dry", value=3, unit="g"),
    )
    pages = [url_of(name, bench_work, *rest) for name, *rest in BENCH_PAGES]
    forms, stored = walk(sign_in(student), pages)
    assert forms >= 40
    assert stored >= 55


@pytest.mark.parametrize("name", ["entry", "about", "after", "seen"])
@pytest.mark.parametrize("value", ["", "x" * 60, "x" * 61, "\x00", "9" * 40, SOMEBODYS, "-1"])
def test_no_word_of_the_queue_is_a_server_error(sign_in, student, bench_work, name, value):
    client, url = sign_in(student), url_of("replay-entry", bench_work)
    for entry in (*KINDS, CORRECT):
        sent = {"client_token": str(uuid4()), "queue-entry": entry, "mark": "done", "reason": "x"}
        sends(client, url, {**sent, f"queue-{name}": value})


@pytest.mark.timeout(600)
def test_no_field_of_a_plan_is_a_server_error(sign_in, student, planned_work):
    steps = [step["id"] for step in current_plan(planned_work).data["steps"]]
    pages = [url_of(name, planned_work) for (name,) in PLAN_PAGES]
    pages += [f"{url_of('build-plan', planned_work)}?step={step}" for step in steps]
    forms, stored = walk(sign_in(student), pages)
    assert forms >= 15
    assert stored >= 10


@pytest.mark.parametrize("typed", ["0.3333333", "0,123456789", "0.33333333"])
def test_more_decimals_than_the_record_holds_are_refused_with_what_was_typed(
    sign_in, student, bench_work, typed
):
    client, token = sign_in(student), str(uuid4())
    url = url_of("record-entry", bench_work, "reagents")
    page = client.post(url, {"client_token": token, "1_hexanol": typed})
    assert page.status_code == 200
    assert typed in page.content.decode()
    assert "At most 6 decimals" in page.content.decode()
    sent = {"client_token": token, "queue-entry": "reagents", "1_hexanol": typed}
    answer = client.post(url_of("replay-entry", bench_work), sent).json()
    assert answer["outcome"] == "unreadable"
    assert "At most 6 decimals" in answer["words"]
    assert not Reading.objects.exists()


FAR = ("9999-12-31T23:59:00Z", "0001-01-01T00:00:00Z", "1969-07-20T20:17:00Z")


@pytest.mark.parametrize("device_at", FAR)
def test_a_clock_out_of_the_courses_reach_is_left_out_and_the_reading_kept(
    sign_in, student, bench_work, device_at
):
    sent = {
        "client_token": str(uuid4()),
        "target": TARGET,
        "kind": "tare",
        "mass": "45.30",
        "device_at": device_at,
        "device_offset_s": "86400",
    }
    sign_in(student).post(url_of("record-entry", bench_work, "weighing", TARGET), sent)
    reading = Reading.objects.get()
    assert reading.device_at is None
    assert reading.made_at == reading.server_at


@pytest.mark.parametrize("device_at", FAR)
@pytest.mark.parametrize("offset", [None, 0, 86400, -86400, 2**31 - 1])
def test_a_clock_stored_before_that_breaks_no_page(
    sign_in, student, ta, bench_work, device_at, offset
):
    """The rows only grow: those that are there stay, and their pages are shown."""
    enter(bench_work.bench_record, EntryOrigin(
            by=student,
            client_token=uuid4(),
            device_at=datetime.fromisoformat(device_at),
            device_offset_s=offset,
        ), ReadingValues(
            kind=ReadingKind.TARE,
            subject=TARGET,
            value=Decimal("45.30"),
            decimals=2,
            unit="g",
            readability=Decimal("0.01"),
            on_pan=["flask"],
        ))
    client = sign_in(student)
    for name in ("show-bench", "show-offline-bench", "lock-readings"):
        assert client.get(url_of(name, bench_work)).status_code == 200, name
    client.post(url_of("lock-readings", bench_work))
    bench_work.refresh_from_db()
    assert bench_work.is_assessed
    assert client.get(url_of("show-report", bench_work)).status_code == 200
    client = sign_in(ta)
    for name in ("review-report", "supply-readings"):
        assert client.get(url_of(name, bench_work)).status_code == 200, name


@pytest.mark.parametrize(
    ("days", "kept"), [(-399, True), (-401, False), (0.9, True), (1.1, False)]
)
def test_the_reach_of_a_course_is_a_bit_more_than_a_year(days, kept):
    now = timezone.now()
    entry = Reading(
        server_at=now, device_at=now + timedelta(days=days), device_offset_s=0
    )
    expected = min(entry.device_at, now) if kept else now
    assert entry.made_at == expected


def test_a_token_of_another_record_is_refused_with_what_was_typed(
    sign_in, student, bench_work, classmate, classmates_work
):
    start_of(classmates_work, classmate)
    sent = {"client_token": str(uuid4()), "target": TARGET, "kind": "tare", "mass": "45.30"}
    sign_in(classmate).post(url_of("record-entry", classmates_work, "weighing", TARGET), sent)
    answer = sign_in(student).post(url_of("record-entry", bench_work, "weighing", TARGET), sent)
    assert answer.status_code == 200
    assert "another bench record" in answer.content.decode()
    assert 'value="45.30"' in answer.content.decode()
    assert Reading.objects.count() == 1


def start_of(work, person):
    data = {"steps": plan_to_data(work.revision.to_core().model_plan)}
    save_plan(actor=person, work=work, data=data, base_version=0, change="Wrote")
    submit_plan(actor=person, work=work, base_version=1)
    return start_bench(actor=person, work=work)


@pytest.mark.parametrize("htmx", [{}, {"HX-Request": "true"}])
def test_a_half_filled_step_keeps_what_a_note_may_have_and_no_more(
    sign_in, student, planned_work, htmx
):
    client = sign_in(student)
    url, do = url_of("build-plan", planned_work), {"do": "edit:dry"}
    inside = "9" * NOTE_LENGTH
    client.post(url, {**do, "version": 1, "mass_g": inside}, headers=htmx)
    assert "9" * NOTE_LENGTH in repr(current_plan(planned_work).data)
    before = current_plan(planned_work)
    page = client.post(url, {**do, "version": 2, "mass_g": inside + "9"}, headers=htmx)
    assert page.status_code == 200
    assert f"more than {NOTE_LENGTH} signs" in page.content.decode()
    if not htmx:
        assert inside + "9" in page.content.decode()
    assert current_plan(planned_work) == before


def test_a_plan_has_so_many_steps_and_no_more(sign_in, student, planned_work):
    data = current_plan(planned_work).data
    more = [
        {"id": f"x{number}", "verb": "label", "flask": "reaction flask", "text": "A"}
        for number in range(MAX_STEPS - len(data["steps"]))
    ]
    full = {"steps": [*data["steps"], *more]}
    save_plan(actor=student, work=planned_work, data=full, base_version=1, change="Filled")
    page = sign_in(student).post(
        url_of("build-plan", planned_work), {"version": 2, "do": "add:label"}, follow=True
    )
    assert f"at most {MAX_STEPS} steps" in page.content.decode()
    assert len(current_plan(planned_work).data["steps"]) == MAX_STEPS
    with pytest.raises(PlanIsTooLarge):
        edit_plan(
            actor=student,
            work=planned_work,
            base_version=2,
            edit=add_step({"id": "y", "verb": "label", "typed": {}}, "One more"),
        )


def test_a_plan_of_many_portions_is_not_computed(sign_in, student, planned_work):
    """Each is a simulated shake: 120 of them took 15 s of a processor at each self-check."""
    data = current_plan(planned_work).data
    wash = next(step for step in data["steps"] if step["verb"] == "wash")
    more = [{**wash, "id": f"w{n}", "portions": 12} for n in range(MAX_PORTIONS // 12 + 1)]
    full = {"steps": [*data["steps"], *more]}
    save_plan(actor=student, work=planned_work, data=full, base_version=1, change="Washed")
    client = sign_in(student)
    page = client.get(url_of("build-plan", planned_work)).content.decode()
    assert f"at most {MAX_PORTIONS} portions" in page
    for name in ("self-check", "submit-plan"):
        page = client.post(url_of(name, planned_work), {"version": 2}, follow=True)
        assert page.status_code == 200
    planned_work.refresh_from_db()
    assert planned_work.hand_in == "nothing"
    assert not planned_work.self_checks.exists()


def test_what_is_stored_of_a_plan_does_not_grow_with_what_is_typed(
    sign_in, student, planned_work
):
    client = sign_in(student)
    for number in range(4):
        sent = {"do": "edit:dry", "version": number + 1, "agent": str(number)}
        client.post(url_of("build-plan", planned_work), {**sent, "mass_g": "9" * 1_900_000})
    with connection.cursor() as cursor:
        cursor.execute("SELECT SUM(LENGTH(CAST(data AS TEXT))) FROM workups_planrevision")
        (size,) = cursor.fetchone()
    assert size < 50_000


@pytest.mark.parametrize(
    ("typed", "is_right"),
    [
        ("0001-01-01T00:00", False),
        ("1999-12-31T23:59", False),
        ("2000-01-01T00:00", True),
        ("2099-12-31T23:59", True),
        ("2100-01-01T00:00", False),
        ("9999-12-31T23:59", False),
    ],
)
@pytest.mark.parametrize("zone", ["UTC", "Europe/Berlin", "Pacific/Kiritimati"])
def test_dates_are_of_this_century_in_every_time_zone(typed, is_right, zone):
    with timezone.override(zone):
        field = LocalDateTimeField()
        if is_right:
            assert field.clean(typed).astimezone(UTC)
        else:
            with pytest.raises(ValidationError, match="from 2000 to 2099"):
                field.clean(typed)


def whole_numbers():
    """Every whole number that a form declares, by form and name."""
    for info in pkgutil.walk_packages(web.__path__, "workups.web."):
        module = importlib.import_module(info.name)
        for name, form in inspect.getmembers(module, inspect.isclass):
            for field_name, field in getattr(form, "base_fields", {}).items():
                if isinstance(field, forms.IntegerField) and not isinstance(
                    field, forms.DecimalField
                ):
                    yield f"{name}.{field_name}", field


def test_a_whole_number_has_a_bound_that_every_database_holds():
    """PostgreSQL's columns of counts end at 2**31 - 1, SQLite's do not."""
    found = dict(whole_numbers())
    assert len(found) >= 10
    unbounded = [n for n, f in found.items() if f.max_value is None or f.max_value >= 2**31]
    assert unbounded == []


@pytest.mark.parametrize("version", [2**31 - 1, 2**31, 2**63, 10**30])
def test_a_version_out_of_reach_is_no_server_error(sign_in, student, planned_work, version):
    answer = sign_in(student).post(
        url_of("build-plan", planned_work), {"version": version, "do": "add:label"}, follow=True
    )
    assert answer.status_code == 200
