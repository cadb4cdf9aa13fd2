"""The review queue: what needs eyes first, filters, and the way from one report to the next."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.web.review.conftest import stoppered_at_once
from tests.web.review.reports import (
    SWAPPED,
    TARGET,
    TOO_MUCH,
    USUAL,
    hand_in_plan,
    hand_in_report,
    put_out,
    weigh,
)
from workups.models import Assignment, MarkQuery, Reading, ReadingKind, Review
from workups.selectors.review import (
    QueueColumns,
    QueueFilter,
    assignments_overdue,
    neighbours,
    queue_columns,
    queue_lines,
)
from workups.services.bench import start_bench
from workups.services.door import clear_hold
from workups.services.exercises import assign_revision
from workups.services.reports import lock_readings


def queue_url(course):
    return reverse("review-queue", args=[course.public_id])


def report_url(work, query=""):
    return reverse("review-report", args=[work.public_id]) + query


@pytest.fixture
def three_reports(report, new_work):
    """Straightforward, above theoretical, and tare and gross swapped; in order of handing in."""
    return [
        report,
        hand_in_report(new_work("abe.above"), TOO_MUCH, explanation="Wet, I think."),
        hand_in_report(new_work("gil.gross"), SWAPPED),
    ]


def keys(line):
    return [reason.key for reason in line.reasons]


def test_what_needs_eyes_comes_first(three_reports, ta, enrolment_of):
    straight, above, swapped = three_reports
    lines = queue_lines(enrolment_of(ta), QueueFilter())
    assert [line.work for line in lines] == [above, swapped, straight]
    assert "above" in keys(lines[0])
    assert "question" in keys(lines[1])
    assert lines[2].is_straight


def test_a_held_plan_comes_before_everything(three_reports, ta, enrolment_of, new_work):
    work = new_work("hal.held")
    hand_in_plan(work, stoppered_at_once)
    clear_hold(actor=ta, work=work, reason="Watched.")
    start_bench(actor=work.student, work=work)
    work.refresh_from_db()
    weigh(work, work.student, USUAL)
    lock_readings(actor=work.student, record=work.bench_record)
    first = queue_lines(enrolment_of(ta), QueueFilter())[0]
    assert first.work == work
    assert keys(first)[0] == "hold"


def test_a_student_who_asks_is_back_in_the_queue(report, ta, enrolment_of, student):
    put_out(report)
    assert not queue_lines(enrolment_of(ta), QueueFilter())
    MarkQuery.objects.create(review=report.review, text="Why?", asked_by=student)
    (line,) = queue_lines(enrolment_of(ta), QueueFilter())
    assert keys(line) == ["asked"]


def signed(work, text, agrees, *, supersedes=None, withdrawn=False):
    """A sign of purity on record, or another word on one that was."""
    return Reading.objects.create(
        record=work.bench_record,
        by=work.student,
        client_token=uuid4(),
        kind=ReadingKind.WITNESS,
        witness_kind="odour",
        subject=TARGET,
        text=text,
        agrees=agrees,
        supersedes=supersedes,
        withdrawn=withdrawn,
        reason="Another nose." if supersedes else "",
    )


def test_a_sign_that_does_not_agree_needs_eyes_until_it_is_taken_back(report, ta, enrolment_of):
    signed(report, "of the product", True)
    signed(report, "hard to say", None)
    (line,) = queue_lines(enrolment_of(ta), QueueFilter())
    assert line.is_straight
    sign = signed(report, "smells of solvent", False)
    (line,) = queue_lines(enrolment_of(ta), QueueFilter())
    assert keys(line) == ["sign"]
    assert len(queue_lines(enrolment_of(ta), QueueFilter(reason="sign"))) == 1
    signed(report, "of the product after all", True, supersedes=sign)
    (line,) = queue_lines(enrolment_of(ta), QueueFilter())
    assert line.is_straight


def test_the_queue_holds_the_tas_sections_alone(
    report, revision, other_section, new_work, terms, instructor, ta, enrolment_of
):
    given = assign_revision(
        actor=instructor, revision=revision, section=other_section, terms=terms
    )
    elsewhere = hand_in_report(new_work("olga.other", given))
    assert [line.work for line in queue_lines(enrolment_of(ta), QueueFilter())] == [report]
    seen = {line.work for line in queue_lines(enrolment_of(instructor), QueueFilter())}
    assert seen == {report, elsewhere}


def test_the_page_shows_the_queue_with_reasons(sign_in, ta, course, three_reports):
    page = sign_in(ta).get(queue_url(course)).content.decode()
    assert page.index("Abe Above") < page.index("Gil Gross") < page.index("Stina Student")
    assert "above theoretical" in page
    assert "straightforward" in page
    assert "3 reports" in page


@pytest.mark.parametrize(
    ("query", "names"),
    [
        ({"reason": "above"}, ["Abe Above"]),
        ({"reason": "straight"}, ["Stina Student"]),
        ({"show": "released"}, []),
        ({"show": "all"}, ["Abe Above", "Gil Gross", "Stina Student"]),
    ],
)
def test_filters_narrow_the_queue(sign_in, ta, course, three_reports, query, names):
    page = sign_in(ta).get(queue_url(course), query).content.decode()
    for name in ("Abe Above", "Gil Gross", "Stina Student"):
        assert (name in page) == (name in names), name


def test_filters_by_section_and_exercise(sign_in, instructor, course, report, other_section):
    client = sign_in(instructor)
    here = {"section": report.assignment.section.public_id, "exercise": report.revision.public_id}
    assert "Stina Student" in client.get(queue_url(course), here).content.decode()
    elsewhere = {"section": other_section.public_id}
    assert "No report fits this choice" in client.get(queue_url(course), elsewhere).content.decode()


@pytest.mark.parametrize("query", [{"section": "x"}, {"show": "x"}, {"reason": "x"}])
def test_a_filter_that_is_none_is_said_and_narrows_nothing(
    sign_in, ta, course, report, query
):
    response = sign_in(ta).get(queue_url(course), query)
    assert response.status_code == 200
    page = response.content.decode()
    assert "field--wrong" in page
    assert "Stina Student" in page


def test_a_ta_cannot_ask_for_another_section(sign_in, ta, course, report, other_section):
    page = sign_in(ta).get(queue_url(course), {"section": other_section.public_id})
    assert "Thursday B" not in page.content.decode()


def test_the_live_part_is_the_list_alone(sign_in, ta, course, report):
    part = sign_in(ta).get(queue_url(course), headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in part
    assert "Stina Student" in part


def test_previous_and_next_follow_the_queue(sign_in, ta, course, three_reports):
    straight, above, swapped = three_reports
    page = sign_in(ta).get(report_url(swapped)).content.decode()
    assert "2 of 3" in page
    assert f'data-keys="p k" href="{report_url(above)}"' in page
    assert f'data-keys="n j" href="{report_url(straight)}"' in page


def test_the_filter_goes_along(sign_in, ta, three_reports):
    _, above, _ = three_reports
    query = "?show=all&reason=above"
    page = sign_in(ta).get(report_url(above, query)).content.decode()
    assert "1 of 1" in page
    assert 'accept/?show=all&amp;reason=above"' in page


def test_accepting_leads_to_the_next_and_at_the_end_to_the_queue(
    sign_in, ta, course, three_reports
):
    straight, above, swapped = three_reports
    client = sign_in(ta)
    accept = [reverse("accept-report", args=[w.public_id]) for w in (above, swapped, straight)]
    assert client.post(accept[0]).url == report_url(swapped)
    assert client.post(accept[1]).url == report_url(straight)
    assert client.post(accept[2]).url == queue_url(course)
    assert set(Review.objects.values_list("state", flat=True)) == {"reviewed"}


def test_a_report_asks_the_database_no_more_often_in_a_long_queue(sign_in, ta, report, new_work):
    """Its time by the clock is measured in the browser (``tests/browser/test_evening_of_marking``);
    the other 23 are copies of one computed report."""
    client = sign_in(ta)
    client.get(report_url(report))
    with CaptureQueriesContext(connection) as alone:
        client.get(report_url(report))
    fields = ("assignment", "revision", "plan_revision", "bench_record", "readings", "engine")
    fields += ("seed", "draws", "assessment")
    snapshot = report.snapshots.first()
    for number in range(23):
        work = new_work(f"student.{number}")
        work.snapshots.create(**{name: getattr(snapshot, name) for name in fields})
        Review.objects.create(work=work)
    with CaptureQueriesContext(connection) as among_24:
        page = client.get(report_url(report))
    assert "1 of 24" in page.content.decode()
    assert len(among_24) <= len(alone)


def test_a_report_that_has_left_the_queue_is_followed_by_the_first():
    place = neighbours([], type("Gone", (), {"pk": 1})())
    assert (place.following, place.place, place.count) == (None, None, 0)


def test_the_queue_is_for_teaching_staff(
    client, sign_in, leads_to_sign_in, course, student, stockroom, outsider, ta
):
    for name in ("review-queue", "list-remarks"):
        url = reverse(name, args=[course.public_id])
        assert leads_to_sign_in(url)
        for person, status in ((student, 403), (stockroom, 403), (outsider, 404), (ta, 200)):
            assert sign_in(person).get(url).status_code == status
        assert sign_in(ta).post(url).status_code == 405
        client.logout()


def test_an_empty_queue_says_what_comes_next(sign_in, ta, course):
    assert "Reports come into the queue when" in sign_in(ta).get(
        queue_url(course)
    ).content.decode()


def test_many_overdue_records_take_no_more_queries_than_few(
    new_work, course, ta, enrolment_of, django_assert_max_num_queries
):
    for n in range(4):
        work = hand_in_plan(new_work(f"nora.{n}"))
        start_bench(actor=work.student, work=work)
    past = timezone.now() - timedelta(hours=1)
    Assignment.objects.update(plan_due=past, report_due=past)
    enrolment = enrolment_of(ta)
    with django_assert_max_num_queries(1):
        (found,) = assignments_overdue(enrolment)
    assert found.works.count() == 4


def test_what_was_accepted_by_a_slip_of_the_key_is_one_link_away(report, sign_in, ta, course):
    client = sign_in(ta)
    url = reverse("accept-report", args=[report.public_id]) + "?reason=straight"
    page = client.post(url, follow=True).content.decode()
    assert f'<a href="{report_url(report)}?reason=straight">Open it again</a>' in page


def test_what_all_reports_share_is_said_once(three_reports, sign_in, ta, course, assignment):
    page = sign_in(ta).get(queue_url(course)).content.decode()
    assert f"3 reports of {assignment.section.name}, {assignment.revision.title}" in page
    head = page[page.index("<thead>") : page.index("</thead>")]
    for title in ("Section", "Exercise", "State"):
        assert f">{title}<" not in head


def test_a_column_stands_where_reports_differ(three_reports, sign_in, ta, course, enrolment_of):
    Review.objects.filter(work=three_reports[0]).update(state=Review.State.IN_REVIEW, reviewer=ta)
    page = sign_in(ta).get(queue_url(course)).content.decode()
    assert '<th scope="col">State</th>' in page
    columns = queue_columns(queue_lines(enrolment_of(ta), QueueFilter()))
    assert columns == QueueColumns(section=False, exercise=False, state=True)


def test_an_empty_queue_says_what_is_next(report, sign_in, ta, course):
    client = sign_in(ta)
    narrow = client.get(queue_url(course) + "?reason=hold").content.decode()
    assert "No report fits this choice" in narrow
    client.post(reverse("accept-report", args=[report.public_id]))
    assert "Release what is reviewed, above" in client.get(queue_url(course)).content.decode()


def test_the_overview_leads_to_what_waits(three_reports, sign_in, ta, course, assignment):
    client = sign_in(ta)
    overview = client.get(reverse("show-course", args=[course.public_id])).content.decode()
    assert "<strong>Review 3</strong>" in overview
    assert reverse("show-class", args=[assignment.revision.public_id]) in overview
    part = overview[: overview.index("<strong>Review 3")]
    address = part[part.rindex('href="') + 6 :].split('"')[0].replace("&amp;", "&")
    assert "3 reports of" in client.get(address).content.decode()
    for work in three_reports:
        client.post(reverse("accept-report", args=[work.public_id]))
    overview = client.get(reverse("show-course", args=[course.public_id])).content.decode()
    assert "<strong>Review" not in overview
