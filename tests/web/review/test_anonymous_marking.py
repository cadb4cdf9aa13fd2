"""Where a course hides names, nothing on the pages of marking says whose report it is."""

import pytest
from django.urls import reverse

from tests.web.review.reports import put_out
from workups.models import Review
from workups.selectors.anonymity import marking_code
from workups.selectors.mark_history import mark_history
from workups.services.review import accept_report

NAMES = ("Stina", "stina.student", "Sven")


def url_of(name, work):
    return reverse(name, args=[work.public_id])


@pytest.fixture
def hidden(course):
    course.anonymous_marking = True
    course.save()


@pytest.fixture
def shared_report(classmates_work, report):
    """The record has a second owner, whose name stands beside nothing either."""
    classmates_work.bench_record = report.bench_record
    classmates_work.save()
    return report


def pages_of(client, work):
    """Everything that marking shows, live parts and messages too."""
    queue = reverse("review-queue", args=[work.revision.course.public_id])
    yield client.get(queue)
    yield client.get(queue, headers={"HX-Request": "true"})
    yield client.get(url_of("review-report", work))
    yield client.get(url_of("show-mark-history", work))
    sent = {"check_name": "order", "points": "99", "reason": ""}
    yield client.post(url_of("adjust-points", work), sent)
    yield client.post(url_of("return-report", work), {"reason": "Weigh again."}, follow=True)
    Review.objects.filter(work=work).update(state=Review.State.WAITING)
    yield client.post(url_of("accept-report", work), follow=True)


def test_no_page_of_marking_names_the_student(hidden, sign_in, ta, shared_report):
    code = f"Report {marking_code(shared_report)}"
    for page in pages_of(sign_in(ta), shared_report):
        text = page.content.decode()
        assert code in text, page.request
        assert not [name for name in NAMES if name in text], page.request


def test_a_name_that_was_changed_since_is_hidden_too(hidden, sign_in, ta, report):
    report.student.display_name = "Renata Renamed"
    report.student.save()
    page = sign_in(ta).get(url_of("show-mark-history", report)).content.decode()
    assert f"Report {marking_code(report)}" in page
    assert "Stina" not in page
    assert "Renata" not in page


def test_staff_of_the_same_name_as_the_student_stay_named(hidden, ta, report):
    ta.display_name = report.student.display_name
    ta.save()
    accept_report(actor=ta, work=report)
    assert [e.who for e in mark_history(report) if e.what == "accepted the report"] == [
        ta.display_name
    ]


def test_the_code_is_not_the_one_that_stands_beside_the_name(hidden, sign_in, ta, report):
    assert marking_code(report) != report.bench_code
    page = sign_in(ta).get(url_of("review-report", report)).content.decode()
    assert report.bench_code not in page
    door = sign_in(ta).get(reverse("show-door", args=[report.assignment.public_id]))
    assert marking_code(report) not in door.content.decode()


def test_with_the_release_the_name_is_back(hidden, sign_in, ta, report):
    put_out(report)
    for name in ("review-report", "show-mark-history"):
        assert "Stina Student" in sign_in(ta).get(url_of(name, report)).content.decode()


def test_names_are_shown_unless_the_instructor_hides_them(sign_in, instructor, ta, report, course):
    assert "Stina Student" in sign_in(ta).get(url_of("review-report", report)).content.decode()
    data = {"title": course.title, "term": course.term, "anonymous_marking": "on"}
    sign_in(instructor).post(reverse("edit-course", args=[course.public_id]), data)
    course.refresh_from_db()
    assert course.anonymous_marking
    assert "Stina" not in sign_in(ta).get(url_of("review-report", report)).content.decode()
