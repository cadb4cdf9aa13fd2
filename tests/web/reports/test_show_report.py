"""The report: own readings after the lock, everything after the release."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.entries import enter
from tests.web.review.reports import TOO_MUCH, hand_in_report, put_out
from workups.chemistry.readings import DoneStep
from workups.documents import readings_from_data, readings_to_data
from workups.models import (
    Assignment,
    MarkQuery,
    PointAdjustment,
    ReadingKind,
    Review,
    ReviewComment,
)
from workups.selectors.staff_report import staff_checks
from workups.services.entries import Correction, EntryOrigin, ReadingValues, StepMark
from workups.services.reports import lock_readings
from workups.web.reports.sheet_views import struck_readings

TARGET = "hexyl_acetate"
READ = ["show-report", "print-bench-sheet", "print-flask-labels"]
POST = ["submit-report", "query-mark"]


def url_of(name, work):
    return reverse(name, args=[work.public_id])


def text_of(response):
    return response.content.decode().replace("\u00a0", " ")


def weigh(work, student, *masses):
    for kind, mass in zip(("tare", "gross", "gross"), masses, strict=False):
        enter(work.bench_record, EntryOrigin(by=student, client_token=uuid4()), ReadingValues(
                kind=ReadingKind(kind),
                subject=TARGET,
                value=Decimal(mass),
                decimals=2,
                unit="g",
                readability=Decimal("0.01"),
                on_pan=["flask"],
            ))


@pytest.fixture
def locked_work(bench_work, student):
    weigh(bench_work, student, "45.30", "51.24", "51.24")
    lock_readings(actor=student, record=bench_work.bench_record)
    return bench_work


@pytest.fixture
def released_work(locked_work, assignment, ta):
    review = Review.objects.get(work=locked_work)
    PointAdjustment.objects.create(
        review=review, check_name="order", delta=Decimal("-2"), reason="no label", by=ta
    )
    ReviewComment.objects.create(review=review, text="Careful weighing.", by=ta)
    ReviewComment.objects.create(
        review=review, text="Ask about the balance.", by=ta, for_staff=True
    )
    put_out(review.work)
    Assignment.objects.filter(pk=assignment.pk).update(results_opened_at=timezone.now())
    return locked_work


@pytest.mark.parametrize("name", READ)
def test_the_own_report_and_sheets_are_there(sign_in, student, locked_work, name):
    assert sign_in(student).get(url_of(name, locked_work)).status_code == 200


@pytest.mark.parametrize("who", ["outsider", "classmate"])
@pytest.mark.parametrize("name", [*READ, *POST, "print-yield-report"])
def test_others_find_nothing(sign_in, locked_work, name, who, request):
    client = sign_in(request.getfixturevalue(who))
    url = url_of(name, locked_work)
    assert {client.get(url).status_code, client.post(url).status_code} <= {404, 405}


@pytest.mark.parametrize("who", ["ta", "instructor", "stockroom"])
@pytest.mark.parametrize("name", [*READ, "print-yield-report"])
def test_staff_have_pages_of_their_own(sign_in, locked_work, name, who, request):
    assert sign_in(request.getfixturevalue(who)).get(url_of(name, locked_work)).status_code == 403


@pytest.mark.parametrize("name", [*READ, "print-yield-report"])
def test_a_signed_out_visitor_signs_in_first(leads_to_sign_in, locked_work, name):
    assert leads_to_sign_in(url_of(name, locked_work))


@pytest.mark.parametrize("name", [*READ, *POST, "print-yield-report"])
def test_a_method_that_makes_no_sense_is_refused(sign_in, student, locked_work, name):
    client = sign_in(student)
    assert client.delete(url_of(name, locked_work)).status_code == 405
    if name in POST:
        assert client.get(url_of(name, locked_work)).status_code == 405
    else:
        assert client.post(url_of(name, locked_work)).status_code == 405


def test_before_the_lock_there_is_no_report(sign_in, student, bench_work):
    client = sign_in(student)
    page = text_of(client.get(url_of("show-report", bench_work)))
    assert "The report follows the readings" in page
    url = url_of("submit-report", bench_work)
    page = text_of(client.post(url, {"explanation": "x"}, follow=True))
    assert "Lock your readings first" in page


def test_after_the_lock_the_own_numbers_are_there_and_no_expectation(
    sign_in, student, locked_work
):
    page = text_of(sign_in(student).get(url_of("show-report", locked_work)))
    assert "5.94" in page
    assert "82.4" in page
    assert "7.21 g" in page
    expected = locked_work.snapshots.first().assessment["expected"][0]
    for value in expected["class_band"].values():
        assert not isinstance(value, float) or f"{value:.2f}" not in page
    assert "Expected" not in page
    assert "points" not in page
    assert "<svg" not in page


def test_a_report_is_handed_in(sign_in, student, locked_work):
    client = sign_in(student)
    data = {"explanation": "Some was left in the funnel."}
    page = text_of(client.post(url_of("submit-report", locked_work), data, follow=True))
    assert "Your report is handed in" in page
    assert "Some was left in the funnel." in page
    assert "Hand the report in" not in page
    page = text_of(client.post(url_of("submit-report", locked_work), data, follow=True))
    assert "was not returned to you" in page


def test_an_empty_report_is_asked_about_once(sign_in, student, locked_work):
    client, url = sign_in(student), url_of("submit-report", locked_work)
    page = text_of(client.post(url, {"explanation": " ", "answer-1": ""}))
    assert "Is the report meant to be empty?" in page
    locked_work.refresh_from_db()
    assert locked_work.report_submitted_at is None
    assert "Your report is handed in" in text_of(client.post(url, {"empty": "yes"}, follow=True))


def test_the_questions_of_the_task_are_answered_in_the_report(sign_in, student, ta, locked_work):
    client, url = sign_in(student), url_of("submit-report", locked_work)
    asked = locked_work.to_core().texts.questions
    assert asked[0] in text_of(client.get(url_of("show-report", locked_work)))
    page = text_of(client.post(url, {"answer-2": "Into the water."}, follow=True))
    locked_work.refresh_from_db()
    assert [one["question"] for one in locked_work.answers] == list(asked)
    for read in (page, text_of(sign_in(ta).get(url_of("review-report", locked_work)))):
        assert "Into the water." in read
        assert "Not answered." in read


def test_above_one_hundred_per_cent_an_explanation_is_asked_for(sign_in, student, bench_work):
    weigh(bench_work, student, "45.30", "54.53", "54.53")
    lock_readings(actor=student, record=bench_work.bench_record)
    client = sign_in(student)
    page = text_of(client.post(url_of("submit-report", bench_work), {"explanation": " "}))
    assert "an explanation in your own words is needed" in page
    assert "above 100 %" in page
    bench_work.refresh_from_db()
    assert bench_work.report_submitted_at is None


def test_after_the_release_everything_is_there(sign_in, student, released_work):
    page = text_of(sign_in(student).get(url_of("show-report", released_work)))
    for words in (
        "Expected for what you did",
        "Expected of the class",
        "−2: no label",
        "Careful weighing.",
        "Order of steps",
        "<svg",
        "A question about the mark",
    ):
        assert words in page
    assert "Ask about the balance." not in page


def test_a_returned_report_says_why_and_opens_the_record(sign_in, student, locked_work):
    Review.objects.filter(work=locked_work).update(
        state=Review.State.RETURNED, returned_reason="Check the gross."
    )
    client = sign_in(student)
    page = text_of(client.get(url_of("show-work", locked_work)))
    assert "returned to you" in page
    page = text_of(client.get(url_of("show-bench", locked_work)))
    assert "Record this reading" in page


def test_a_mark_is_queried(sign_in, student, released_work):
    client = sign_in(student)
    url = url_of("query-mark", released_work)
    page = text_of(client.post(url, {"check_name": "order", "text": ""}))
    assert "Not saved yet" in page
    page = text_of(client.post(url, {"check_name": "order", "text": "It had one."}, follow=True))
    assert "Your question is with your TA" in page
    assert "It had one." in page
    assert MarkQuery.objects.get().check_name == "order"


def test_a_mark_is_not_queried_before_the_release(sign_in, student, locked_work):
    page = text_of(
        sign_in(student).post(url_of("query-mark", locked_work), {"text": "Why?"}, follow=True)
    )
    assert "once they are released" in page
    assert not MarkQuery.objects.exists()


@pytest.mark.parametrize("name", ["print-bench-sheet", "print-flask-labels"])
def test_sheets_are_made_from_the_own_plan(sign_in, student, submitted_work, name):
    response = sign_in(student).get(url_of(name, submitted_work))
    assert response.headers["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF")
    assert student.display_name.encode() not in response.content


@pytest.mark.parametrize("name", ["print-bench-sheet", "print-flask-labels"])
def test_without_a_plan_there_is_no_sheet(sign_in, student, work, name):
    page = text_of(sign_in(student).get(url_of(name, work), follow=True))
    assert "Fill it in first" in page


def test_the_report_is_printed_after_the_release(sign_in, student, locked_work, assignment):
    client = sign_in(student)
    page = text_of(client.get(url_of("print-yield-report", locked_work), follow=True))
    assert "once it is released" in page
    put_out(locked_work)
    past = timezone.now() - timedelta(minutes=1)
    Assignment.objects.filter(pk=assignment.pk).update(plan_due=past, report_due=past)
    response = client.get(url_of("print-yield-report", locked_work))
    assert response.content.startswith(b"%PDF")


def test_a_struck_out_reading_is_on_the_page_and_on_paper(sign_in, student, bench_work):
    weigh(bench_work, student, "45.31", "51.24", "51.24")
    tare = bench_work.bench_record.readings.get(kind="tare")
    origin = EntryOrigin(by=student, client_token=uuid4())
    enter(bench_work.bench_record, origin, Correction(tare, None, "misread"))
    page = text_of(sign_in(student).get(url_of("lock-readings", bench_work)))
    assert "Struck out: misread" in page
    assert struck_readings(bench_work.bench_record) == (("Tare", "45.31 g", "misread"),)


def test_the_report_says_what_was_done_otherwise(sign_in, student, bench_work):
    steps = {s["id"]: s for s in bench_work.bench_record.plan_revision.data["steps"]}
    for step_id, mark, data in (
        ("cool", "skipped", {}),
        ("wash-water", "changed", {"volume_mL": 60.0}),
    ):
        enter(
            bench_work.bench_record,
            EntryOrigin(by=student, client_token=uuid4()),
            StepMark(step_id, mark, {**steps[step_id], **data}),
        )
    weigh(bench_work, student, "45.30", "51.24", "51.24")
    lock_readings(actor=student, record=bench_work.bench_record)
    page = text_of(sign_in(student).get(url_of("show-report", bench_work)))
    assert "Step 1, Cool.</strong> Skipped." in page
    assert "60 mL (planned 30 mL)" in page


def test_after_the_release_a_report_shows_what_the_mark_rests_on(
    sign_in, student, locked_work, assignment
):
    """A partner's return may open the shared record again, and it is assessed anew."""
    put_out(locked_work)
    past = timezone.now() - timedelta(minutes=1)
    Assignment.objects.filter(pk=assignment.pk).update(plan_due=past, report_due=past)
    client, url = sign_in(student), url_of("show-report", locked_work)

    def done_otherwise():
        return text_of(client.get(url)).partition("done otherwise")[2].partition("<h2>")[0]

    before = done_otherwise()
    later = locked_work.snapshots.first()
    Review.objects.filter(work=locked_work).update(snapshot=later)
    skipped = [DoneStep(step, "skipped") for step in later.plan_revision.to_core().steps]
    read = replace(readings_from_data(later.readings), steps=tuple(skipped))
    later.pk, later.public_id, later._state.adding = None, uuid4(), True
    later.readings = readings_to_data(read)
    later.save(force_insert=True)
    assert done_otherwise() == before
    assert "Skipped" not in before


def test_each_finding_says_what_it_cost_or_that_it_was_overruled(sign_in, student, ta, work):
    hand_in_report(work, TOO_MUCH)
    check, item = next(
        (check, item)
        for check in staff_checks(work, work.snapshots.first())
        for item in check.costly
    )
    put_out(work)
    url = reverse("show-report", args=[work.public_id])
    client = sign_in(student)
    page = client.get(url).content.decode()
    assert f"This cost {item.cost:.1f} of {check.mark.check.out_of:.0f} points" in page
    PointAdjustment.objects.create(
        review=work.review,
        check_name=check.name,
        delta=Decimal("1"),
        reason="Dried in the cupboard; seen by me.",
        finding_code=item.finding.code,
        step_id=item.finding.step,
        by=ta,
    )
    page = client.get(url).content.decode()
    assert "does not hold this against you: Dried in the cupboard" in page
    assert f"This cost {item.cost:.1f}" not in page
