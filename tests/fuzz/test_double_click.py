"""Every form of every page, sent twice as a double click sends it: the second makes nothing more.

The forms are read from the pages of every role and filled in as somebody would, with one and the
same token. What the first of the two stored is all there may be afterwards. The long run goes
through all pages of a course at the bench; the short one through some that kept both once, and the
pages of a plan. What two clicks do at the same moment: `tests/races`.
"""

from collections import Counter
from collections.abc import Iterable
from contextlib import suppress

import pytest
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse

from tests.fuzz.forms import Form, forms_of
from tests.fuzz.test_forms import client_of, forms_seen_by
from tests.long import IS_LONG, count
from tests.web.access_world import build_world
from tests.web.test_access_table import url_of
from tests.web.test_bounds import plausible
from tests.web.walker import name_of

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("few_draws"),
    pytest.mark.timeout(count(120, 3600)),
]
# Pages of the short run, by role.
PAGES = {
    "student": ("show-profile",),
    "ta": ("mark-compared",),
    "instructor": (
        "show-enrolment", "edit-section", "show-variant", "give-variant", "show-exercise",
        "give-extension", "edit-route",
    ),
}  # fmt: skip
PLAN_PAGES = ("build-plan", "fill-reagents")
# So many forms, or buttons of a form, at least have something stored.
LEAST = {
    "student": count(0, 12), "ta": count(1, 9), "instructor": count(9, 35)
}
# What is meant to be stored each time, and why.
MEANT = {
    "export-gradebook": "each file of marks that leaves the house is in the log",
    "enter-station": "each wrong try counts",
    "set-station-pin": "each word on a PIN is in the log; it is kept hashed, so none is known",
}
# What somebody would type where the page says too little of it.
TYPED = {
    "pin": "4711", "again": "4711", "until_pH": "7", "points": "3", "safety_links": "",
    "password": "correct horse", "old_password": "correct horse",
    "new_password1": "a quiet copper kettle", "new_password2": "a quiet copper kettle",
    "plan_due": "2090-01-01T10:00", "report_due": "2090-02-01T10:00", "spread_percent": "",
    "scale": "0.3", "exercise_file": "", "exercise_text": "", "roster_file": "",
    "roster_text": "name,sign_in,role,section\nNils,nils.newcomer,student,Tuesday A\n",
    **{f"{which}_{number}": "" for which in ("old", "new") for number in (1, 2, 3)},
}  # fmt: skip


class TakeBack(Exception):
    """Ends a transaction and takes back what a request did."""


@pytest.fixture
def world(bench_work, classmates_work, other_section, instructor, ta, stockroom):
    return build_world(bench_work, classmates_work, other_section, instructor, ta, stockroom)


def rows() -> Counter[str]:
    """How many there are in each table."""
    with connection.cursor() as cursor:
        names = connection.introspection.table_names(cursor)
        counts = (f"SELECT COUNT(*) FROM {connection.ops.quote_name(n)}" for n in names)  # noqa: S608
        cursor.execute(" UNION ALL ".join(counts))
        return Counter({n: found for n, (found,) in zip(names, cursor.fetchall(), strict=True)})


def ways(form: Form) -> list[dict[str, str]]:
    """Filled in, once for each kind of its buttons."""
    sent = {name: TYPED.get(name, plausible(control)) for name, control in form.fields.items()}
    sent = {name: "on" if name.endswith("-chosen") else value for name, value in sent.items()}
    offered = form.fields["do"].offered if "do" in form.fields else []
    kinds = {do.partition(":")[0]: {**sent, "do": do} for do in offered}
    return list(kinds.values()) or [sent]


def send_twice(
    client: Client, form: Form, sent: dict[str, str]
) -> tuple[Counter[str], Counter[str]]:
    """What the first and what the second of the two added to the tables."""
    before, cookies = rows(), client.cookies.copy()
    counted = []
    with suppress(TakeBack), transaction.atomic():
        for _ in range(2):
            answer = client.post(form.url, sent)
            assert answer.status_code < 500, form.url
            counted.append(rows())
        raise TakeBack
    client.cookies = cookies
    return counted[0] - before, counted[1] - counted[0]


def forms_on(client: Client, urls: Iterable[str]) -> list[Form]:
    return [form for url in urls for form in forms_of(url, client.get(url).content.decode())]


def stored_of(client: Client, forms: Iterable[Form]) -> set[str]:
    """The addresses, with the button, of the forms that stored something; none of them twice."""
    tried, stored, twice = set(), set(), {}
    for form in forms:
        if form.method != "post" or name_of(form.url) in MEANT:
            continue
        for sent in ways(form):
            what = f"{name_of(form.url)} {sent.get('do', '').partition(':')[0]}".strip()
            if "do" in sent and what in tried:  # the same button of another step
                continue
            tried.add(what)
            one, two = send_twice(client, form, sent)
            stored |= {what} if one else set()
            twice |= {what: dict(two)} if two else {}
    assert twice == {}
    return stored


@pytest.mark.parametrize("role", PAGES)
def test_a_double_click_stores_one(world, role):
    client = client_of(world, role)
    if IS_LONG:
        forms = [form for _, form in sorted(forms_seen_by(client, world).items())]
    else:
        forms = forms_on(client, [url_of(world, name) for name in PAGES[role]])
    stored = stored_of(client, forms)
    if IS_LONG:
        print(f"\n{role}: {len(forms)} forms, stored by {sorted(stored)}")  # noqa: T201
    assert len(stored) >= LEAST[role]


def test_a_double_click_on_a_plan_stores_one(student, planned_work):
    client = Client()
    client.force_login(student, backend="django.contrib.auth.backends.ModelBackend")
    pages = [reverse(name, args=[planned_work.public_id]) for name in PLAN_PAGES]
    stored = stored_of(client, forms_on(client, pages))
    assert stored >= {f"build-plan {do}" for do in ("add", "copy", "down", "up", "remove")}
    assert "fill-reagents" in stored
