"""Anchor reports, second readings and what each person gives: chosen, marked unswayed, compared."""

from decimal import Decimal

import pytest
from django.urls import reverse

from tests.conftest import make_member
from tests.web.review.reports import TOO_MUCH, hand_in_report
from workups.models import AuditEntry, ComparedMark, ComparedReport, Review, Role
from workups.selectors.anonymity import marking_code
from workups.selectors.marks import marks_of
from workups.selectors.standards import comparison_of, marker_lines, overruled_lines
from workups.services.review import NewPoints, accept_report, adjust_points
from workups.services.standards import choose_report, draw_second_readings, mark_compared

ANCHOR, SECOND = ComparedReport.Purpose.ANCHOR, ComparedReport.Purpose.SECOND


def url_of(name, row):
    return reverse(name, args=[row.public_id])


@pytest.fixture
def other_ta(course, other_section):
    return make_member(course, "thea.assistant", Role.TA, assigned_sections=[other_section])


@pytest.fixture
def anchor(report, instructor):
    return choose_report(actor=instructor, work=report, purpose=ANCHOR)


def give(person, compared, **changed):
    """The computed points, with some changed."""
    computed = {m.check.name: Decimal(str(m.computed)) for m in marks_of(compared.work).checks}
    points = computed | {name: Decimal(value) for name, value in changed.items()}
    return mark_compared(actor=person, report=compared, points=points, remark="")


def sent(compared, **changed):
    computed = {m.check.name: m.computed for m in marks_of(compared.work).checks}
    return {f"points-{k}": f"{v:.1f}" for k, v in (computed | changed).items()}


def test_an_instructor_chooses_an_anchor_from_the_reports_page(sign_in, instructor, ta, report):
    page = sign_in(instructor).get(url_of("review-report", report)).content.decode()
    assert "Let all TAs mark it" in page
    assert "Let all TAs mark it" not in (
        sign_in(ta).get(url_of("review-report", report)).content.decode()
    )
    assert sign_in(ta).post(url_of("choose-anchor", report)).status_code == 403
    response = sign_in(instructor).post(url_of("choose-anchor", report))
    assert response.url == url_of("show-standards", report.revision)
    assert ComparedReport.objects.get().purpose == ANCHOR
    assert AuditEntry.objects.filter(action="choose-compared-report").count() == 1
    sign_in(instructor).post(url_of("choose-anchor", report))
    assert AuditEntry.objects.filter(action="choose-compared-report").count() == 1


def test_what_is_not_assessed_is_no_anchor(sign_in, instructor, work):
    sign_in(instructor).post(url_of("choose-anchor", work))
    assert not ComparedReport.objects.exists()


def test_anchors_come_before_any_other_report(sign_in, ta, anchor, new_work, course):
    other = hand_in_report(new_work("nora.new"))
    client = sign_in(ta)
    assert url_of("mark-compared", anchor) in client.get(
        reverse("review-queue", args=[course.public_id])
    ).content.decode()
    refused = client.post(url_of("accept-report", other))
    assert refused.url == url_of("mark-compared", anchor)
    assert Review.objects.get(work=other).state == Review.State.WAITING
    client.post(url_of("mark-compared", anchor), sent(anchor))
    client.post(url_of("accept-report", other))
    assert Review.objects.get(work=other).state == Review.State.REVIEWED


def test_a_ta_of_any_section_marks_without_name_and_without_others_marks(
    sign_in, other_ta, ta, anchor
):
    adjust_points(
        actor=ta, work=anchor.work, change=NewPoints("order", Decimal(3), "Seen by me at once.")
    )
    give(ta, anchor, order="7.25")
    page = sign_in(other_ta).get(url_of("mark-compared", anchor)).content.decode()
    assert f"Report {marking_code(anchor.work)}" in page
    for hidden in ("Stina", "Tariq", "7.25", "7.3", "Seen by me at once", anchor.work.bench_code):
        assert hidden not in page, hidden
    for evidence in ("51.62", "What could explain the mass", "Fine.", "Order of steps"):
        assert evidence in page, evidence


def test_others_marks_are_shown_once_the_own_are_kept(sign_in, other_ta, ta, anchor):
    give(ta, anchor, order="7.25")
    client = sign_in(other_ta)
    data = sent(anchor, order=10) | {"remark": "Labels."}
    response = client.post(url_of("mark-compared", anchor), data)
    assert response.url == url_of("mark-compared", anchor)
    page = client.get(response.url).content.decode()
    assert "Tariq Assistant" in page
    assert "Thea Assistant" in page
    comparison = comparison_of(anchor)
    # Alike but for one check: 7.25 and 10 are 2.75 apart, so are the totals.
    assert comparison.ranges[-1] == pytest.approx(2.75)
    # Two values: standard deviation = difference / sqrt 2.
    assert comparison.spread == pytest.approx(2.75 / 2**0.5)
    assert comparison.missing == ()


@pytest.mark.parametrize("wrong", ["", "x", "-1", "1000", "1.234"])
def test_wrong_points_are_shown_again(sign_in, ta, anchor, wrong):
    response = sign_in(ta).post(
        url_of("mark-compared", anchor), sent(anchor) | {"points-order": wrong}
    )
    assert response.status_code == 200
    assert "Not saved yet" in response.content.decode()
    assert not ComparedMark.objects.exists()


def test_the_newest_mark_of_a_person_counts_and_none_is_lost(ta, anchor):
    give(ta, anchor, order="3")
    give(ta, anchor, order="5")
    (reading,) = comparison_of(anchor).readings
    order = comparison_of(anchor).checks.index("order")
    assert reading.points[order] == 5
    assert ComparedMark.objects.count() == 2


def test_compared_marks_leave_the_students_mark_alone(ta, anchor):
    before = marks_of(anchor.work).points
    give(ta, anchor, order="1")
    assert marks_of(anchor.work).points == before


@pytest.fixture
def four_reviewed(report, new_work, ta, instructor):
    works = [report, *(hand_in_report(new_work(f"nora.no{n}")) for n in range(3))]
    for work in works:
        accept_report(actor=ta, work=work)
    return works


def test_two_reports_of_each_person_are_drawn_once(instructor, four_reviewed, revision):
    drawn = draw_second_readings(actor=instructor, revision=revision)
    assert len(drawn) == 2
    assert {d.purpose for d in drawn} == {SECOND}
    assert draw_second_readings(actor=instructor, revision=revision) == []


def test_a_second_reading_is_somebody_elses(
    sign_in, instructor, ta, other_ta, four_reviewed, revision, course
):
    sign_in(instructor).post(url_of("draw-second-readings", revision))
    drawn = ComparedReport.objects.first()
    queue = reverse("review-queue", args=[course.public_id])
    address = url_of("mark-compared", drawn)
    assert address not in sign_in(ta).get(queue).content.decode()
    assert address in sign_in(other_ta).get(queue).content.decode()
    refused = sign_in(ta).post(address, sent(drawn))
    assert "Somebody else reads it now" in refused.content.decode()
    assert sign_in(other_ta).post(address, sent(drawn, order=20)).status_code == 302
    first, second = comparison_of(drawn).readings
    assert "the mark that stands" in first.who
    assert first.total - second.total == pytest.approx(5)


def test_what_each_person_gives_stands_beside_what_was_computed(
    sign_in, instructor, ta, report, new_work, revision
):
    other = hand_in_report(new_work("abe.above"), TOO_MUCH, explanation="Wet.")
    computed = [marks_of(work).points for work in (report, other)]
    adjust_points(actor=ta, work=report, change=NewPoints("order", Decimal(19), "Late label."))
    for work in (report, other):
        accept_report(actor=ta, work=work)
    (line,) = marker_lines(revision)
    assert (line.who, line.reports, line.changed) == ("Tariq Assistant", 2, 1)
    assert line.computed == pytest.approx(sum(computed) / 2)
    # 6 of 25 points taken from one report of two.
    assert line.by_hand == pytest.approx(-3)
    given = [computed[0] - 6, computed[1]]
    assert line.spread == pytest.approx(abs(given[0] - given[1]) / 2**0.5)
    assert "Tariq Assistant" in (
        sign_in(instructor).get(url_of("show-standards", revision)).content.decode()
    )


def charged_finding(work):
    """A check and the code of a finding in it that cost points."""
    return next(
        (mark.check.name, finding.code)
        for mark in marks_of(work).checks
        for finding in mark.check.findings
        if finding.charged and finding.score_loss
    )


def test_findings_are_counted_by_how_often_they_were_overruled(ta, new_work, revision):
    works = [
        hand_in_report(new_work(f"nora.no{n}"), change=lambda plan: plan.without("dry"))
        for n in range(2)
    ]
    check, code = charged_finding(works[0])
    change = NewPoints(check, Decimal(1), "Seen.", finding_code=code)
    adjust_points(actor=ta, work=works[0], change=change)
    for work in works:
        accept_report(actor=ta, work=work)
    (line,) = overruled_lines(revision)
    assert (line.code, line.charged, line.overruled, line.percent) == (code, 2, 1, 50.0)


def test_a_report_taken_off_the_list_is_not_there_but_its_marks_are(
    sign_in, instructor, ta, anchor
):
    give(ta, anchor)
    sign_in(instructor).post(url_of("drop-compared", anchor))
    assert sign_in(ta).get(url_of("mark-compared", anchor)).status_code == 404
    assert ComparedMark.objects.count() == 1
    again = choose_report(actor=instructor, work=anchor.work, purpose=ANCHOR)
    assert again.pk == anchor.pk
    assert len(comparison_of(again).readings) == 1


@pytest.mark.parametrize("name", ["show-standards", "draw-second-readings"])
def test_the_comparison_is_for_instructors(
    sign_in, leads_to_sign_in, revision, ta, student, stockroom, outsider, name
):
    url = url_of(name, revision)
    method = "get" if name == "show-standards" else "post"
    assert leads_to_sign_in(url, method)
    for person, status in ((ta, 403), (student, 403), (stockroom, 403), (outsider, 404)):
        assert getattr(sign_in(person), method)(url).status_code == status
    assert sign_in(ta).put(url).status_code == 405


def test_two_people_of_one_name_are_two_lines(ta, other_ta, report, new_work):
    other_ta.display_name = ta.display_name
    other_ta.save()
    accept_report(actor=ta, work=report)
    accept_report(actor=other_ta, work=hand_in_report(new_work("nora.new")))
    assert [(line.who, line.reports) for line in marker_lines(report.revision)] == [
        (ta.display_name, 1),
        (ta.display_name, 1),
    ]


def test_a_finding_overruled_twice_in_one_report_counts_once(ta, work):
    report = hand_in_report(work, change=lambda plan: plan.without("dry"))
    check, code = charged_finding(report)
    for points in ("1", "2"):
        change = NewPoints(check, Decimal(points), "Fine here.", code)
        adjust_points(actor=ta, work=report, change=change)
    accept_report(actor=ta, work=report)
    assert [line.overruled for line in overruled_lines(report.revision)] == [1]
    assert [line.overruled for line in marker_lines(report.revision)] == [1]


def test_what_others_gave_an_anchor_is_not_seen_on_its_own_pages_first(
    sign_in, ta, instructor, anchor, report
):
    adjust_points(
        actor=instructor, work=report, change=NewPoints("order", Decimal(1), "Swaying words.")
    )
    client = sign_in(ta)
    for name in ("review-report", "show-mark-history"):
        response = client.get(url_of(name, report), follow=True)
        assert response.redirect_chain == [(url_of("mark-compared", anchor), 302)]
        assert "Swaying words." not in response.content.decode()
    give(ta, anchor)
    for name in ("review-report", "show-mark-history"):
        assert "Swaying words." in client.get(url_of(name, report)).content.decode()
