"""Every page a student can come to, in the states it has: axe, reflow, names, targets, keyboard."""

import re
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.browser.accessible import assert_accessible, too_small
from tests.entries import enter
from tests.web.access_table import TABLE
from tests.web.access_world import build_world
from tests.web.review.reports import put_out
from tests.web.walker import named_urls
from workups.models import Assignment, Reading, ReadingKind
from workups.selectors.plans import current_plan
from workups.services import plan_edits
from workups.services.bench import join_bench
from workups.services.entries import EntryOrigin, ReadingValues
from workups.services.planning import StalePlan, edit_plan, save_plan
from workups.services.reports import lock_readings
from workups.services.self_checks import self_check
from workups.services.station import set_station_pin

TARGET = "hexyl_acetate"
PHONE = {"width": 360, "height": 740}
NO_PAGE = {"service-worker", "check-connection"}  # a script, a word for a script

pytestmark = pytest.mark.timeout(600)


def url_of(name, work, *args):
    return reverse(name, args=[work.public_id, *args])


def look_at(page, *paths):
    for path in paths:
        assert page.goto(path).status == 200, path
        assert_accessible(page)


def record(work, student, kind, value, **more):
    return enter(work.bench_record, EntryOrigin(by=student, client_token=uuid4()), ReadingValues(
            kind=ReadingKind(kind),
            subject=TARGET,
            value=Decimal(value),
            decimals=2,
            unit="g",
            readability=Decimal("0.01"),
            **more,
        ))


def names_of_student_pages():
    """From the table of who gets what, so that a new page is looked at too."""
    return [
        name
        for name, line in TABLE.items()
        if line.get.get("student") == 200 and name not in NO_PAGE and not name.startswith("print-")
    ] + ["print-plan"]


def test_every_page_of_the_table(
    new_page, bench_work, classmates_work, other_section, instructor, ta, stockroom, student
):
    world = build_world(bench_work, classmates_work, other_section, instructor, ta, stockroom)
    page = new_page(student)
    names = names_of_student_pages()
    known = {key: [value] for key, value in world.arguments.items()}
    urls = [url for name, url in named_urls(known) if name in names]
    assert len(urls) >= len(names) - 1, "set-password needs a link of its own"
    # Drying is recorded about a step; what is about none has the reagents.
    alone, about_none = "/entries/drying/", "/entries/reagents/"
    look_at(page, *(re.sub(f"{alone}$", about_none, url) for url in urls))


def test_the_states_of_a_plan(new_page, planned_work, student, few_draws):
    plan = current_plan(planned_work)
    steps = [
        {**s, "keep": "lower"} if s["id"] == "wash-water" else s for s in plan.data["steps"]
    ]
    save_plan(
        actor=student, work=planned_work, data={"steps": steps}, base_version=1, change="Slipped"
    )
    self_check(actor=student, work=planned_work)
    edit = plan_edits.put_step({**steps[5], "keep": "upper", "volume_mL": 10.0}, "Elsewhere")
    with pytest.raises(StalePlan) as stale:
        edit_plan(actor=student, work=planned_work, base_version=1, edit=edit)
    page = new_page(student)
    look_at(
        page,
        url_of("build-plan", planned_work),
        url_of("build-plan", planned_work) + "?step=wash-bicarbonate",
        url_of("build-plan", planned_work) + "?step=dry",
        url_of("choose-draft", planned_work, stale.value.aside.version),
        url_of("show-self-check", planned_work, 1),
        url_of("show-shake", planned_work, "extract"),
        url_of("submit-plan", planned_work),
        url_of("show-bench", planned_work),
        url_of("show-report", planned_work),
    )
    page.goto(url_of("build-plan", planned_work) + "?step=wash-water")
    page.get_by_label("Volume of each portion, mL").fill("much")
    page.get_by_role("button", name="Keep this step").click()
    page.get_by_text("A number is expected here").first.wait_for()
    assert_accessible(page)


def test_the_states_of_a_bench(new_page, bench_work, student):
    record(bench_work, student, "tare", "45.30", on_pan=["flask"])
    record(
        bench_work, student, "part", "0.00", value_high=Decimal("0.12"), flask="used in a test"
    )
    record(bench_work, student, "gross", "51.24", on_pan=["flask", "stopper"])
    page = new_page(student)
    look_at(
        page,
        url_of("show-bench", bench_work),
        url_of("record-entry", bench_work, "add", "extract") + "?after=cool",
        url_of("record-entry", bench_work, "volume", "extract"),
        url_of("record-entry", bench_work, "correct", Reading.objects.get(kind="part").pk),
        url_of("lock-readings", bench_work),
    )
    page.goto(url_of("type-sheet", bench_work))
    for typed in ("done", "skipped"):
        page.get_by_label(typed, exact=True).first.check()
        page.locator("main button").first.click()
        page.get_by_text("Second time" if typed == "done" else "two times differ").first.wait_for()
        assert_accessible(page)


def test_the_states_of_a_report(new_page, bench_work, student, assignment):
    for kind, mass in (("tare", "45.30"), ("gross", "54.24")):
        record(bench_work, student, kind, mass, on_pan=["flask"])
    lock_readings(actor=student, record=bench_work.bench_record)
    page = new_page(student)
    look_at(page, url_of("show-report", bench_work))
    page.get_by_role("button", name="Hand the report in").click()
    page.get_by_text("an explanation in your own words is needed").wait_for()
    assert_accessible(page)
    put_out(bench_work)
    Assignment.objects.filter(pk=assignment.pk).update(results_opened_at=timezone.now())
    look_at(page, url_of("show-report", bench_work))


def test_what_a_ta_does_to_a_record(
    new_page, bench_work, classmates_work, classmate, ta, assignment
):
    join_bench(actor=classmate, work=classmates_work, record=bench_work.bench_record)
    page = new_page(ta)
    look_at(
        page,
        reverse("show-lab", args=[assignment.public_id]),
        url_of("supply-readings", bench_work),
        url_of("part-partner", classmates_work),
    )
    page.get_by_role("button", name="Leave the record").click()
    page.get_by_text("Not saved yet").wait_for()
    assert_accessible(page)


def test_the_station(new_page, bench_work, student):
    set_station_pin(actor=student, work=bench_work, pin="4711")
    page = new_page(None)
    look_at(page, reverse("enter-station"))
    page.get_by_label("Bench code").fill(bench_work.bench_code)
    page.get_by_label("PIN", exact=True).fill("4711")
    page.get_by_role("button", name="To my weighings").click()
    page.wait_for_url("**/station/weighing/")
    assert_accessible(page)
    page.set_viewport_size(PHONE)
    assert too_small(page) == []


def test_taps_at_the_bench_are_large_enough_for_gloves(new_page, bench_work, student):
    page = new_page(student, viewport=PHONE)
    for path in (
        url_of("show-bench", bench_work),
        url_of("show-offline-bench", bench_work),
        url_of("record-entry", bench_work, "change", "wash-water"),
        url_of("record-entry", bench_work, "drying", "dry"),
        url_of("type-sheet", bench_work),
        url_of("lock-readings", bench_work),
    ):
        page.goto(path)
        assert too_small(page) == [], path


def press_until(page, key, selector, most=60):
    """Press a key until the focus is on an element."""
    for _ in range(most):
        page.keyboard.press(key)
        if page.evaluate("s => document.activeElement.matches(s)", selector):
            return
    raise AssertionError(f"{selector} was not reached by {key}")


def test_a_plan_is_changed_by_the_keyboard_alone(new_page, planned_work, student):
    page = new_page(student)
    page.goto(url_of("build-plan", planned_work))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip-link"
    page.keyboard.press("Enter")
    press_until(page, "Tab", "#fold-cool")
    page.keyboard.press("Enter")
    press_until(page, "Tab", "#down-cool")
    page.keyboard.press("Enter")
    page.get_by_text("Moved step 1, Cool down").wait_for()
    page.locator("#down-cool:focus").wait_for()
    press_until(page, "Shift+Tab", "#edit-cool")
    page.keyboard.press("Enter")
    page.locator("#form-cool").wait_for()
    press_until(page, "Tab", "[name=to_C]")
    page.keyboard.press("Control+A")
    page.keyboard.type("12")
    press_until(page, "Tab", "#close-cool")
    page.keyboard.press("Enter")
    page.locator("#form-cool").wait_for(state="detached")
    page.wait_for_function("document.activeElement.id === 'fold-cool'")
    assert current_plan(planned_work).data["steps"][1]["to_C"] == 12


def test_a_bench_is_recorded_by_the_keyboard_alone(new_page, bench_work, student):
    page = new_page(student)
    page.goto(url_of("show-bench", bench_work))
    press_until(page, "Tab", "#done-cool")
    page.keyboard.press("Enter")
    page.get_by_text("16 steps to go").wait_for()
    # The step goes, the next one is at hand.
    assert not page.locator("#done-cool").is_visible()
    page.wait_for_function("document.activeElement.id.startsWith('done-')")
    assert page.locator("#done-dilute:focus").count() == 1
    page.goto(url_of("show-bench", bench_work) + "?step=rest")
    page.locator("[name=mass]").focus()
    page.keyboard.type("45.30")
    page.keyboard.press("Enter")
    page.locator(".readings__value").get_by_text("45.30").wait_for()
    assert Reading.objects.get().kind == "tare"
