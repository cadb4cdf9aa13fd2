"""A student's pages in a real browser: planning and the bench, with and without JavaScript."""

import time
from decimal import Decimal
from uuid import uuid4

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone

from workups.models import Assignment, Reading, ReadingKind, Review
from workups.selectors.bench import step_entries
from workups.selectors.plans import current_plan
from workups.services.bench import EntryOrigin, ReadingValues, record_reading
from workups.services.planning import save_plan
from workups.services.reports import lock_readings
from workups.services.self_checks import self_check

TARGET = "hexyl_acetate"
PHONE = {"width": 360, "height": 740}


def url_of(name, work, *args):
    return reverse(name, args=[work.public_id, *args])


def assert_fits_and_accessible(page, width):
    assert page.evaluate("document.documentElement.scrollWidth") <= width, page.url
    found = Axe().run(page).response["violations"]
    assert [(v["id"], [n["target"] for n in v["nodes"]]) for v in found] == [], page.url


@pytest.fixture
def checked_work(planned_work, student, few_draws):
    """With a self-check that found the product layer thrown away."""
    plan = current_plan(planned_work)
    steps = [
        {**s, "keep": "lower"} if s["id"] == "wash-water" else s for s in plan.data["steps"]
    ]
    save_plan(
        actor=student, work=planned_work, data={"steps": steps}, base_version=1, change="Slipped"
    )
    self_check(actor=student, work=planned_work)
    return planned_work


def weigh(work, student, kind, mass):
    return record_reading(
        record=work.bench_record,
        origin=EntryOrigin(by=student, client_token=uuid4()),
        values=ReadingValues(
            kind=ReadingKind(kind),
            subject=TARGET,
            value=Decimal(mass),
            decimals=2,
            unit="g",
            readability=Decimal("0.01"),
            on_pan=["flask"],
        ),
    )


@pytest.mark.parametrize(
    ("width", "scheme"), [(360, "dark"), (820, "light"), (1440, "dark"), (320, "light")]
)
def test_planning_pages_fit_and_break_no_accessibility_rule(
    new_page, checked_work, student, course, width, scheme
):
    page = new_page(student, viewport={"width": width, "height": 900}, color_scheme=scheme)
    for path in (
        reverse("list-work", args=[course.public_id]),
        url_of("show-work", checked_work),
        url_of("fill-reagents", checked_work),
        url_of("build-plan", checked_work),
        url_of("edit-step", checked_work, "wash-bicarbonate"),
        url_of("edit-step", checked_work, "dry"),
        url_of("show-plan-history", checked_work),
        url_of("show-plan-version", checked_work, 1),
        url_of("print-plan", checked_work),
        url_of("show-self-check", checked_work, 1),
        url_of("submit-plan", checked_work),
        url_of("show-bench", checked_work),
        url_of("show-report", checked_work),
    ):
        page.goto(path)
        assert_fits_and_accessible(page, width)


@pytest.mark.parametrize(
    ("width", "scheme"), [(360, "light"), (820, "dark"), (1440, "light"), (320, "dark")]
)
def test_bench_and_report_pages_fit_and_break_no_accessibility_rule(
    new_page, bench_work, student, assignment, width, scheme
):
    reading = weigh(bench_work, student, "tare", "45.30")
    weigh(bench_work, student, "gross", "51.24")
    page = new_page(student, viewport={"width": width, "height": 900}, color_scheme=scheme)
    for path in (
        url_of("show-bench", bench_work),
        url_of("change-bench-step", bench_work, "wash-water"),
        url_of("add-bench-step", bench_work),
        url_of("add-bench-step", bench_work) + "?verb=extract&after=cool",
        url_of("record-drying", bench_work, "dry"),
        url_of("record-volume", bench_work, "extract"),
        url_of("record-reagents", bench_work),
        url_of("correct-reading", bench_work, reading.pk),
        url_of("lock-readings", bench_work),
        url_of("show-offline-bench", bench_work),
        url_of("type-sheet", bench_work),
    ):
        page.goto(path)
        assert_fits_and_accessible(page, width)
    lock_readings(actor=student, record=bench_work.bench_record)
    page.goto(url_of("show-report", bench_work))
    assert_fits_and_accessible(page, width)
    Review.objects.filter(work=bench_work).update(state=Review.State.RELEASED)
    Assignment.objects.filter(pk=assignment.pk).update(results_opened_at=timezone.now())
    page.goto(url_of("show-report", bench_work))
    assert_fits_and_accessible(page, width)


def fill_wash(page):
    page.get_by_label("With", exact=True).select_option(label="water")
    page.get_by_label("Volume of each portion, mL").fill("25")
    page.get_by_label("upper layer").check()
    page.get_by_label("Kept layer goes to").fill("organic layer")
    page.get_by_label("Other layer goes to").fill("washings")


@pytest.mark.parametrize("with_script", [True, False])
def test_a_plan_is_built_changed_and_undone(new_page, work, student, with_script):
    page = new_page(student, java_script_enabled=with_script, viewport=PHONE)
    page.goto(url_of("build-plan", work))
    page.get_by_role("button", name="Cool", exact=True).click()
    page.get_by_role("button", name="Keep this step").click()
    page.get_by_text("cool to 20").wait_for()
    page.get_by_role("button", name="Wash", exact=True).click()
    fill_wash(page)
    page.get_by_role("button", name="Keep this step").click()
    page.get_by_role("button", name="Keep this step").wait_for(state="detached")
    page.get_by_role("button", name="Up step 2").click()
    page.get_by_text("Moved step 2, Wash up").wait_for()
    page.get_by_role("button", name="Duplicate step 1").click()
    page.get_by_text("Duplicated step 1").wait_for()
    page.get_by_role("button", name="Remove step 3").click()
    page.get_by_text("Removed step 3, Cool").wait_for()
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("Went back to draft").wait_for()
    assert [s["verb"] for s in current_plan(work).data["steps"]] == ["wash", "wash", "cool"]


@pytest.mark.parametrize(("start", "over", "order"), [
    ("cool", "extract", ["dilute", "extract", "cool"]),
    ("extract", "cool", ["extract", "cool", "dilute"]),
])
def test_a_step_is_moved_by_dragging(new_page, planned_work, student, start, over, order):
    page = new_page(student)
    page.goto(url_of("build-plan", planned_work))
    page.locator(f"#step-{start} .step__handle").hover()
    page.mouse.down()
    box = page.locator(f"#step-{over}").bounding_box()
    y = box["y"] + (box["height"] - 2 if start == "cool" else 2)
    page.mouse.move(box["x"] + 100, y, steps=4)
    page.mouse.up()
    page.locator("#plan-status").get_by_text("2 places").wait_for()
    steps = current_plan(planned_work).data["steps"]
    assert [s["id"] for s in steps[:3]] == order


def test_a_drag_given_up_moves_nothing(new_page, planned_work, student):
    page = new_page(student)
    page.goto(url_of("build-plan", planned_work))
    page.locator("#step-cool .step__handle").hover()
    page.mouse.down()
    page.mouse.move(400, 600, steps=4)
    page.locator(".step--dragged").wait_for()
    page.keyboard.press("Escape")
    page.mouse.up()
    page.locator(".step--dragged").wait_for(state="detached")
    assert current_plan(planned_work).version == 1


def test_what_is_typed_is_saved_at_once_and_nothing_jumps(new_page, work, student):
    page = new_page(student)
    page.goto(url_of("build-plan", work))
    page.get_by_role("button", name="Wash", exact=True).click()
    page.locator("#form-s1").wait_for()
    assert page.evaluate("document.activeElement.name") == "flask"
    page.get_by_label("Volume of each portion, mL").fill("abc")
    page.keyboard.press("Tab")
    page.get_by_text("A number is expected here").wait_for()
    assert page.evaluate("document.activeElement.name") == "portions"
    page.get_by_label("Volume of each portion, mL").fill("25")
    page.keyboard.press("Tab")
    page.get_by_text("A number is expected here").wait_for(state="detached")
    page.reload()
    page.get_by_role("link", name="Fill in").click()
    assert page.get_by_label("Volume of each portion, mL").input_value() == "25"


def test_a_slow_network_makes_no_conflict_of_ones_own_changes(new_page, work, student):
    page = new_page(student, viewport=PHONE)
    page.goto(url_of("build-plan", work))
    page.get_by_role("button", name="Wash", exact=True).click()
    page.locator("#form-s1").wait_for()
    page.route("**/plan/steps/s1/", lambda route: (time.sleep(0.7), route.continue_()))
    fill_wash(page)
    page.get_by_role("button", name="Keep this step").click()
    page.get_by_role("button", name="Duplicate step 1").wait_for()
    assert current_plan(work).data["steps"][0]["other_in"] == "washings"


def test_the_same_step_in_two_tabs_is_asked_about(new_page, planned_work, student):
    one, two = new_page(student), new_page(student)
    for page in (one, two):
        page.goto(url_of("edit-step", planned_work, "cool"))
    one.get_by_label("To, °C").fill("10")
    one.get_by_role("button", name="Keep this step").click()
    one.get_by_text("to 10").wait_for()
    two.get_by_label("To, °C").fill("5")
    two.get_by_role("button", name="Keep this step").click()
    two.get_by_role("heading", name="The same step was changed in two places").wait_for()
    two.get_by_role("button", name="Go on with yours").click()
    two.get_by_text("Went back to draft").wait_for()
    assert current_plan(planned_work).data["steps"][0]["to_C"] == 5.0


@pytest.mark.parametrize("with_script", [True, False])
def test_the_bench_is_recorded_by_taps_and_figures(new_page, bench_work, student, with_script):
    page = new_page(student, java_script_enabled=with_script, viewport=PHONE)
    page.goto(url_of("show-bench", bench_work))
    page.get_by_role("button", name="Done").first.click()
    page.get_by_text("16 steps to go").wait_for()
    for kind, mass in (("tare", "45.30"), ("gross", "51.24")):
        page.get_by_label(f"{kind}:").check()
        page.get_by_label("Balance shows, g").fill(mass)
        page.get_by_role("button", name="Record this reading").click()
        page.get_by_text(f"{mass}", exact=False).first.wait_for()
    page.get_by_text("Mass by difference:").wait_for()
    assert "5.94" in page.locator(".by-difference").inner_text()
    assert {i: e.mark for i, e in step_entries(bench_work.bench_record).items()} == {"cool": "done"}
    assert Reading.objects.count() == 2


def test_a_reading_with_too_few_decimals_stays_in_its_field(new_page, bench_work, student):
    page = new_page(student, viewport=PHONE)
    page.goto(url_of("show-bench", bench_work))
    page.get_by_label("Balance shows, g").fill("45.3")
    page.get_by_role("button", name="Record this reading").click()
    page.get_by_text("write all of them").wait_for()
    assert page.get_by_label("Balance shows, g").input_value() == "45.3"


def test_taps_at_the_bench_are_large_enough_for_gloves(new_page, bench_work, student):
    page = new_page(student, viewport=PHONE)
    page.goto(url_of("show-bench", bench_work))
    small = page.evaluate(
        """() => [...document.querySelectorAll(
             "main :is(button, .button, select, input:not([type=hidden])), .step__tools a")]
           .map(e => [e.innerText || e.name, (e.closest("label, .field__tick") || e)
             .getBoundingClientRect().height])
           .filter(([, height]) => height > 0 && height < 44)"""
    )
    assert small == []


def test_the_reagent_table_answers_while_it_is_filled_in(new_page, work, student):
    page = new_page(student)
    page.goto(url_of("fill-reagents", work))
    page.get_by_label("Molar mass of 1-hexanol").fill("102.18")
    page.keyboard.press("Tab")
    page.get_by_text("1 of 7 answers right").wait_for()
    assert page.evaluate("document.activeElement.name") == "amount_mmol-1_hexanol"
