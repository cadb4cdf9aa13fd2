"""Working the plan down at the bench, one tap a step."""

import re
from uuid import uuid4

import pytest
from django.urls import reverse

from tests.entries import enter
from workups.models import BenchRecord, BenchStep, HoldClearance
from workups.selectors.bench import readings_to_core, step_entries
from workups.selectors.plans import current_plan, submitted_plan
from workups.services.entries import EntryOrigin, StepMark
from workups.services.planning import save_plan, submit_plan

HTMX = {"HX-Request": "true"}


def url_of(name, work, *args):
    return reverse(name, args=[work.public_id, *args])


@pytest.fixture
def mark(sign_in, student, bench_work):
    def tap(step_id, word, token=None, *, stale=False, **headers):
        """A tap on the page as it stands, or on one that was loaded before anything was said."""
        stands = step_entries(bench_work.bench_record).get(step_id)
        seen = stands.client_token if stands and not stale else ""
        data = {"mark": word, "client_token": token or uuid4(), "seen": seen}
        url = url_of("record-entry", bench_work, "mark", step_id)
        return sign_in(student).post(url, data, headers=headers)

    return tap


def marks(work):
    return {i: e.mark for i, e in step_entries(work.bench_record).items()}


def test_before_a_plan_is_handed_in_the_bench_says_so(sign_in, student, planned_work):
    client = sign_in(student)
    page = client.get(url_of("show-bench", planned_work)).content.decode()
    assert "Hand the plan in first" in page
    page = client.post(url_of("start-bench", planned_work), follow=True).content.decode()
    assert "Hand in a plan first" in page


def test_the_record_begins_with_the_plan_handed_in(sign_in, student, submitted_work):
    client = sign_in(student)
    assert "Begin the bench record" in client.get(
        url_of("show-bench", submitted_work)
    ).content.decode()
    page = client.post(url_of("start-bench", submitted_work), follow=True).content.decode()
    assert "17 steps to go" in page
    assert "Stop and ask" in page


def test_a_safety_hold_waits_for_the_ta(sign_in, student, planned_work, ta, few_draws):
    steps = [
        {**s, "swirl_open": False, "vent": False} if s["id"] == "wash-bicarbonate" else s
        for s in current_plan(planned_work).data["steps"]
    ]
    save_plan(
        actor=student, work=planned_work, data={"steps": steps}, base_version=1, change="Hasty"
    )
    submit_plan(actor=student, work=planned_work, base_version=2)
    client = sign_in(student)
    page = client.get(url_of("show-bench", planned_work)).content.decode()
    assert "waits for your TA" in page
    assert "Begin the bench record" not in page
    client.post(url_of("start-bench", planned_work))
    assert not BenchRecord.objects.exists()
    HoldClearance.objects.create(
        work=planned_work, plan_revision=submitted_plan(planned_work), reason="shown how", by=ta
    )
    page = client.get(url_of("show-bench", planned_work)).content.decode()
    assert "shown how" in page
    assert "Begin the bench record" in page


def test_one_tap_marks_a_step_and_the_next_one_comes_to_the_front(mark, bench_work):
    response = mark("cool", "done")
    assert response.url == url_of("show-bench", bench_work) + "?step=dilute#step-dilute"
    fragment = mark("dilute", "skipped", **HTMX).content.decode()
    assert marks(bench_work) == {"cool": "done", "dilute": "skipped"}
    assert "<html" not in fragment
    assert "15 steps to go" in fragment
    assert 'data-at="extract"' in fragment


def test_a_tap_that_arrives_twice_counts_once(mark):
    token = uuid4()
    mark("cool", "done", token)
    mark("cool", "done", token, stale=True)
    assert BenchStep.objects.count() == 1


def test_two_buttons_of_one_form_are_two_entries(mark, bench_work):
    """Back in the browser, the old page's form is sent with the other button."""
    token = uuid4()
    mark("cool", "done", token)
    mark("cool", "skipped", token)
    assert marks(bench_work) == {"cool": "skipped"}


def test_a_mark_is_taken_back(mark, bench_work):
    mark("cool", "done")
    mark("cool", "open")
    assert marks(bench_work) == {}


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_a_tap_on_what_a_partner_marked_meanwhile_is_asked_about(
    mark, sign_in, student, bench_work, classmate, headers
):
    """A page that was loaded before used to put its word in the place of the partner's."""
    step = bench_work.bench_record.plan_revision.data["steps"][0]
    theirs = StepMark("cool", "skipped", step)
    enter(bench_work.bench_record, EntryOrigin(classmate, uuid4()), theirs)
    answer = mark("cool", "done", stale=True, **headers)
    page = sign_in(student).get(answer.url) if answer.status_code == 302 else answer
    assert "Meanwhile in the record: skipped, " in page.content.decode()
    assert marks(bench_work) == {"cool": "skipped"}
    seen = step_entries(bench_work.bench_record)["cool"].client_token
    assert f'name="seen" value="{seen}"' in page.content.decode()
    url = url_of("record-entry", bench_work, "mark", "cool")
    sign_in(student).post(url, {"mark": "done", "client_token": uuid4(), "seen": seen})
    assert marks(bench_work) == {"cool": "done"}


def test_a_tap_on_ones_own_second_device_is_asked_about_too(mark, bench_work):
    """A desk that was loaded before used to put its word over the phone's without asking."""
    mark("cool", "done")
    assert "Meanwhile in the record: done, " in mark(
        "cool", "skipped", stale=True, **HTMX
    ).content.decode()
    assert marks(bench_work) == {"cool": "done"}


def shown(page):
    """Names of the steps that the page shows, and where its links lead."""
    steps = re.findall(r'id="step-([\w-]+)"[^>]*?data-name="[^"]*"( hidden)?>', page)
    return [name for name, hidden in steps if not hidden]


def test_one_step_is_shown_and_links_lead_back_and_on(sign_in, student, bench_work):
    client, url = sign_in(student), url_of("show-bench", bench_work)
    assert shown(client.get(url).content.decode()) == ["cool"]
    page = client.get(url, {"step": "extract"}).content.decode()
    assert shown(page) == ["extract"]
    bar = page[page.index('class="bench-bar__row" data-shown-at="extract"'):]
    assert 'href="?step=dilute"' in bar[:2000]
    assert 'href="?step=rest"' in page
    assert shown(client.get(url, {"step": "rest"}).content.decode()) == []
    assert shown(client.get(url, {"step": "no-such"}).content.decode()) == ["cool"]


def test_a_tap_without_sense_changes_nothing(mark, bench_work):
    response = mark("cool", "burnt")
    assert response.status_code == 302
    assert marks(bench_work) == {}


def test_amounts_really_used_replace_the_planned_ones(sign_in, student, bench_work):
    client = sign_in(student)
    url = url_of("record-entry", bench_work, "change", "dilute")
    assert 'value="30"' in client.get(url).content.decode()
    data = {
        "flask": "reaction flask",
        "material": "water",
        "volume_mL": "40",
        "client_token": uuid4(),
    }
    client.post(url, data)
    assert marks(bench_work) == {"dilute": "changed"}
    page = client.get(url_of("show-bench", bench_work)).content.decode().replace("\u00a0", " ")
    assert "Add 40 mL of water" in page
    assert "Planned: Add 30 mL of water" in page


def test_a_wrong_amount_keeps_what_was_typed(sign_in, student, bench_work):
    url = url_of("record-entry", bench_work, "change", "dilute")
    data = {"flask": "reaction flask", "material": "water", "volume_mL": "lots"}
    page = sign_in(student).post(url, {**data, "client_token": uuid4()}).content.decode()
    assert 'value="lots"' in page
    assert "A number is expected here" in page
    assert marks(bench_work) == {}


def test_a_step_is_added_where_it_was_done(sign_in, student, bench_work):
    client = sign_in(student)
    menu = client.get(url_of("add-bench-step", bench_work)).content.decode()
    assert 'value="stand"' in menu
    url = f"{url_of('record-entry', bench_work, 'add', 'stand')}?after=cool"
    assert "Let stand" in client.get(url).content.decode()
    said = {"flask": "reaction flask", "minutes": "7", "after": "cool"}
    client.post(url, {**said, "client_token": uuid4()})
    core = readings_to_core(bench_work.bench_record, ["hexyl_acetate"])
    assert [(d.step.verb, d.mark) for d in core.steps[:3]] == [
        ("cool", "done"),
        ("stand", "added"),
        ("add", "done"),
    ]
    page = client.get(url_of("show-bench", bench_work)).content.decode()
    assert "Let ‘reaction flask’ stand for" in page


def test_an_added_step_that_is_not_filled_in_is_kept_and_marked(sign_in, student, bench_work):
    url = f"{url_of('record-entry', bench_work, 'add', 'stand')}?after=cool"
    page = sign_in(student).post(url, {"flask": "reaction flask", "minutes": "long"})
    assert 'value="long"' in page.content.decode()
    assert marks(bench_work) == {}


def test_steps_that_cannot_follow_each_other_are_asked_about(mark, sign_in, student, bench_work):
    mark("extract", "skipped")
    page = sign_in(student).get(url_of("show-bench", bench_work)).content.decode()
    assert "Please check" in page
    assert "organic layer" in page


def test_a_partner_shares_the_record_by_its_code(
    sign_in, bench_work, classmates_work, classmate, few_draws
):
    client = sign_in(classmate)
    url = url_of("join-bench", classmates_work)
    page = client.post(url, {"code": bench_work.bench_code}, follow=True).content.decode()
    assert "Hand in your own plan first" in page
    save_plan(
        actor=classmate,
        work=classmates_work,
        data=bench_work.bench_record.plan_revision.data,
        base_version=0,
        change="Wrote",
    )
    submit_plan(actor=classmate, work=classmates_work, base_version=1)
    page = client.post(url, {"code": "WRONG"}).content.decode()
    assert 'value="WRONG"' in page
    assert "No partner of your section has begun a record with this code" in page
    page = client.post(url, {"code": bench_work.bench_code.lower()}, follow=True).content.decode()
    assert "Your partner is asked" in page
    assert "One record" not in page
    client = sign_in(bench_work.student)
    page = client.get(url_of("show-bench", bench_work)).content.decode()
    assert "Sven Student asks to share this record" in page
    asked = classmates_work.share_requests.get(record__isnull=False).public_id
    client.post(url_of("answer-share", bench_work), {"asked": asked, "grant": "yes"})
    page = sign_in(classmate).get(url_of("show-bench", classmates_work)).content.decode()
    assert "One record with Stina Student" in page


def test_locking_says_what_is_missing_first(sign_in, student, bench_work):
    client = sign_in(student)
    page = client.get(url_of("lock-readings", bench_work)).content.decode()
    assert "a tare" in page
    assert "17 steps have no mark" in page
    page = client.post(url_of("lock-readings", bench_work), follow=True).content.decode()
    assert "The readings are locked" in page
    assert "Yield report" in page
    again = client.get(url_of("lock-readings", bench_work))
    assert again.url == url_of("show-report", bench_work)


def test_the_bench_names_no_expected_mass(sign_in, student, bench_work):
    page = sign_in(student).get(url_of("show-bench", bench_work)).content.decode()
    expected = bench_work.snapshots.first().assessment["expected"][0]
    for band in (expected["class_band"], expected["plan_band"]):
        assert f"{band['nominal']:.2f}" not in page
    assert "xpected" not in page
