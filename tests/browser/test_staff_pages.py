"""The staff's pages in a real browser: they fit, are accessible, work by key and without script."""

from dataclasses import replace
from decimal import Decimal

import pytest
from django.urls import reverse

from tests.browser.accessible import assert_accessible
from tests.conftest import make_member
from tests.web.review.reports import SWAPPED, TOO_MUCH, hand_in_plan, hand_in_report
from workups.chemistry.plan import Plan
from workups.documents import library_text
from workups.models import ComparedReport, ExerciseRevision, MarkQuery, Review, Role, Work
from workups.services.bench import start_bench
from workups.services.drafts import start_draft
from workups.services.review import (
    CommentText,
    NewPoints,
    accept_report,
    adjust_points,
    comment_report,
)
from workups.services.standards import choose_report, mark_compared
from workups.services.works import start_work

pytestmark = [pytest.mark.usefixtures("few_draws"), pytest.mark.timeout(400)]
PHONE = {"width": 360, "height": 740}
WRONG = library_text("too-much-vinegar").replace("mass_g = 5.11", 'mass_g = "five"')


def url_of(name, row):
    return reverse(name, args=[row.public_id])


def stoppered_at_once(plan: Plan) -> Plan:
    steps = [s for s in plan.steps if s.id != "wash-water"]
    return Plan(
        tuple(
            replace(s, swirl_open=False, vent=False) if s.id == "wash-bicarbonate" else s
            for s in steps
        )
    )


@pytest.fixture
def students_work(course, section, assignment, enrolment_of):
    def make(sign_in: str) -> Work:
        person = make_member(course, sign_in, Role.STUDENT, section=section)
        return start_work(assignment=assignment, enrolment=enrolment_of(person))

    return make


@pytest.fixture
def lab_day(students_work, ta) -> dict[str, Work]:
    """One of each: held, missing, ready, at the bench, and reports of several kinds."""
    works = {
        "held": hand_in_plan(students_work("hal.okonjo-vale"), stoppered_at_once),
        "missing": students_work("mira.lindqvist"),
        "ready": hand_in_plan(students_work("rea.abara")),
        "bench": hand_in_plan(students_work("bo.castellan")),
        "above": hand_in_report(
            students_work("abe.thorne"), TOO_MUCH, explanation="It was still cloudy."
        ),
        "swapped": hand_in_report(students_work("gil.ferreira"), SWAPPED),
        "faulty": hand_in_report(
            students_work("fay.oduya"), change=lambda plan: plan.without("dry")
        ),
        "plain": hand_in_report(students_work("pia.nowak")),
    }
    start_bench(actor=works["bench"].student, work=works["bench"])
    change = NewPoints(check_name_of(works["faulty"]), 3, "Dried in the cupboard over night.")
    adjust_points(actor=ta, work=works["faulty"], change=change)
    comment = CommentText("Write down when you added the agent.", keep=True)
    comment_report(actor=ta, work=works["faulty"], comment=comment)
    MarkQuery.objects.create(
        review=Review.objects.get(work=works["faulty"]),
        check_name="drying",
        text="The agent was loose when I looked. Why is it not enough?",
        asked_by=works["faulty"].student,
    )
    return works


def check_name_of(work: Work) -> str:
    return "drying" if work.snapshots.exists() else "order"


@pytest.fixture
def draft(course, instructor):
    return start_draft(
        actor=instructor, course=course, document=library_text("too-much-vinegar")
    )


@pytest.fixture
def wrong_draft(course, instructor):
    return start_draft(actor=instructor, course=course, document=WRONG)


@pytest.fixture
def staff_pages(course, assignment, revision, draft, wrong_draft, lab_day, instructor):
    accept_report(actor=instructor, work=lab_day["plain"])
    anchor = choose_report(
        actor=instructor, work=lab_day["above"], purpose=ComparedReport.Purpose.ANCHOR
    )
    points = {check: Decimal(1) for check in lab_day["above"].revision.to_core().rubric.points}
    mark_compared(actor=instructor, report=anchor, points=points, remark="Cloudy.")
    return [
        url_of("show-course", course),
        url_of("list-exercises", course),
        url_of("add-exercise", course),
        url_of("preview-draft", draft),
        url_of("edit-draft", wrong_draft),
        url_of("publish-exercise", draft),
        url_of("show-exercise", revision),
        url_of("assign-exercise", revision),
        url_of("edit-assignment", assignment),
        url_of("show-prep-sheet", assignment),
        url_of("list-prep-sheets", course),
        url_of("give-extension", assignment),
        reverse("list-rules"),
        reverse("show-method"),
        reverse("show-rule", args=["wet-again-after-drying"]),
        url_of("show-door", assignment),
        url_of("read-plan", lab_day["faulty"]),
        url_of("show-lab", assignment),
        url_of("review-queue", course),
        url_of("review-report", lab_day["faulty"]),
        url_of("review-report", lab_day["above"]),
        url_of("review-report", lab_day["missing"]),
        url_of("show-mark-history", lab_day["faulty"]),
        url_of("list-remarks", course),
        url_of("open-results", assignment),
        url_of("show-class", revision),
        url_of("show-standards", revision),
        url_of("mark-compared", anchor),
        url_of("export-gradebook", course),
    ]


def test_staff_pages_fit_every_width_and_break_no_accessibility_rule(
    new_page, staff_pages, instructor
):
    ExerciseRevision.objects.update(title="Three in one bottle: an acid, a base and a neutral oil")
    page = new_page(instructor)
    for path in staff_pages:
        page.goto(path)
        page.evaluate("document.querySelectorAll('main details').forEach(d => { d.open = true })")
        assert_accessible(page)


def test_an_evening_of_marking_goes_by_one_key_a_report(new_page, lab_day, ta, course):
    """One keystroke accepts a straightforward report and brings the next."""
    page = new_page(ta)
    page.goto(url_of("review-queue", course))

    def press(key, then):
        page.keyboard.press(key)
        page.get_by_text(then).first.wait_for()
        page.wait_for_load_state()  # the keys are listened to from then on

    press("n", "1 of 4")
    seen = [page.locator("h1").inner_text()]
    press("n", "2 of 4")
    press("p", "1 of 4")
    for left in (3, 2, 1):
        press("a", f"of {left}")
        seen.append(page.locator("h1").inner_text())
    assert len(set(seen)) == 4
    page.keyboard.press("a")
    page.get_by_role("heading", name="Review").wait_for()
    states = set(Review.objects.values_list("state", flat=True))
    assert states == {Review.State.REVIEWED}


def test_keys_are_no_trap_while_typing_and_can_be_switched_off(new_page, lab_day, ta):
    page = new_page(ta)
    page.goto(url_of("review-report", lab_day["plain"]))
    page.get_by_text("Write a comment").click()
    page.get_by_label("Comment", exact=True).press_sequentially("a neat plan")
    assert page.get_by_label("Comment", exact=True).input_value() == "a neat plan"
    page.get_by_role("button", name="Keys are on").click()
    page.get_by_role("button", name="Keys are off").wait_for()
    page.keyboard.press("a")
    page.wait_for_timeout(300)
    assert Review.objects.get(work=lab_day["plain"]).state == Review.State.WAITING


def test_a_report_is_judged_without_javascript(new_page, lab_day, ta, course):
    page = new_page(ta, java_script_enabled=False, viewport=PHONE)
    page.goto(url_of("review-queue", course))
    page.get_by_label("Needs eyes for").select_option("above")
    page.get_by_role("button", name="Show").click()
    page.get_by_role("link", name="Abe Thorne").click()
    page.get_by_text("Give other points for Order of steps").click()
    form = page.locator("#check-order details form").last
    form.get_by_label("New points").fill("20")
    form.get_by_label("Reason").fill("One label was missing.")
    form.get_by_role("button", name="Change the points").click()
    page.get_by_text("The points are changed.").wait_for()
    page.get_by_role("button", name="Accept").first.click()
    page.get_by_text("report is accepted").wait_for()
    assert Review.objects.get(work=lab_day["above"]).state == Review.State.REVIEWED


def test_an_instructor_publishes_from_the_library_by_keyboard(
    new_page, course, section, instructor
):
    page = new_page(instructor)
    page.goto(url_of("list-exercises", course))
    page.get_by_role("link", name="Add an exercise").press("Enter")
    page.get_by_label("Too much vinegar").press("Space")
    page.get_by_role("button", name="Look at it").press("Enter")
    page.get_by_role("heading", name="What a class may expect").wait_for()
    page.get_by_role("link", name="Publish").press("Enter")
    page.get_by_label("Tuesday A").press("Space")
    page.get_by_role("button", name="Publish").press("Enter")
    page.get_by_text("is published for one section").wait_for()
    assert section.assignments.exists()


def test_the_lab_view_renews_itself(new_page, lab_day, ta, assignment):
    page = new_page(ta)
    page.clock.install()
    page.goto(url_of("show-lab", assignment))
    page.get_by_role("heading", name="Who is where").wait_for()
    start_bench(actor=lab_day["ready"].student, work=lab_day["ready"])
    assert page.get_by_text("at the bench").count() == 1
    page.clock.fast_forward(16_000)
    page.get_by_text("at the bench").nth(1).wait_for()
