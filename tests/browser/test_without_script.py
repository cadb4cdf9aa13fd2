"""JavaScript switched off: from the reagent table to the question about the mark."""

import re

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.web.review.reports import put_out
from workups.models import Assignment, MarkQuery, Reading, ReagentTableEntry
from workups.selectors.bench import step_entries
from workups.selectors.plans import current_plan, submitted_plan

pytestmark = pytest.mark.timeout(300)


@pytest.fixture
def page(new_page, planned_work, student, few_draws):
    return new_page(student, java_script_enabled=False, viewport={"width": 360, "height": 740})


def press(page, name):
    """A button that sends its form; the page that comes back is waited for."""
    with page.expect_navigation():
        page.get_by_role("button", name=name).first.click()


def fill_reagents(page, work):
    page.goto(reverse("fill-reagents", args=[work.public_id]))
    page.get_by_label("Molar mass of 1-hexanol").fill("102.18")
    press(page, "Check the table")
    assert "1 of 7 answers right" in page.locator("main").inner_text()
    assert ReagentTableEntry.objects.filter(work=work, molar_mass="102.18").exists()


def plan_and_check(page, work):
    page.goto(reverse("build-plan", args=[work.public_id]))
    page.locator(".step__fold > summary").first.click()
    with page.expect_navigation():
        page.get_by_role("link", name="Change step 1", exact=True).click()
    page.get_by_label("To, °C").fill("15")
    press(page, "Keep this step")
    page.locator(".step__fold > summary").nth(4).click()
    press(page, "Duplicate step 5")
    page.locator(".step__fold > summary").nth(5).click()
    press(page, "Remove step 6")
    press(page, "Undo: Removed step 6")
    press(page, "Undo: Duplicated step 5")
    assert len(current_plan(work).data["steps"]) == 17
    press(page, "Check my plan")
    assert page.get_by_role("heading", name="Self-check 1").is_visible()
    assert page.get_by_role("figure").first.is_visible()


def hand_in(page, work):
    page.goto(reverse("submit-plan", args=[work.public_id]))
    press(page, "Hand this plan in")
    assert submitted_plan(work).data["steps"][0]["to_C"] == 15


def go_to(page, name):
    """Show the first step of a kind, by the list."""
    page.get_by_text("All steps").click()
    page.locator("#bench-list a", has_text=re.compile(rf"(^|\. ){name}")).first.click()


def record_bench(page, work):
    page.goto(reverse("show-bench", args=[work.public_id]))
    press(page, "Begin the bench record")
    press(page, "Done as planned, Cool")
    go_to(page, "Label")
    press(page, "Skipped Label")
    go_to(page, "Wash")
    page.get_by_role("link", name="Done otherwise Wash").click()
    page.get_by_label("Volume of each portion, mL").fill("60")
    press(page, "Record what was done")
    go_to(page, "Dry")
    page.get_by_role("link", name="Record amount and look").click()
    page.get_by_label("free-flowing").check()
    press(page, "Record")
    go_to(page, "Weighings")
    for kind, mass in (("tare", "45.30"), ("gross", "51.24"), ("gross", "51.24")):
        page.get_by_label(f"{kind}:").check()
        page.get_by_label("Balance shows, g").fill(mass)
        press(page, "Record this reading")
    page.get_by_text("Record mp, TLC, IR, odour or appearance").click()
    page.get_by_label("odour").check()
    page.get_by_label("What was seen").fill("fruit")
    press(page, "Record this sign")
    page.get_by_role("link", name="Correct Tare").click()
    page.get_by_label("Balance shows, g").fill("45.33")
    page.get_by_label("Why is it corrected").fill("misread")
    press(page, "Record the correction")
    assert "5.91" in page.locator(".by-difference").first.inner_text()
    work.refresh_from_db()
    marks = sorted(entry.mark for entry in step_entries(work.bench_record).values())
    assert marks == ["changed", "done", "skipped"]


def lock_and_report(page, work):
    page.goto(reverse("lock-readings", args=[work.public_id]))
    press(page, "Lock the readings")
    page.get_by_role("textbox", name="Your explanation").fill("A little stayed in the cake.")
    press(page, "Hand the report in")
    assert "A little stayed in the cake." in page.locator("main").inner_text()


def ask_about_the_mark(page, work):
    put_out(work)
    Assignment.objects.filter(pk=work.assignment_id).update(results_opened_at=timezone.now())
    page.goto(reverse("show-report", args=[work.public_id]))
    page.get_by_role("textbox", name="Your question").fill("Why?")
    press(page, "Ask")
    assert MarkQuery.objects.get().text == "Why?"


def test_from_the_reagent_table_to_the_question_about_the_mark(page, planned_work):
    for part in (fill_reagents, plan_and_check, hand_in, record_bench, lock_and_report,
                 ask_about_the_mark):  # fmt: skip
        part(page, planned_work)
        planned_work.refresh_from_db()
    assert Reading.objects.filter(withdrawn=False).count() == 6
