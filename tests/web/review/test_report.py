"""One report: everything to judge it by on one page, and everything a TA does to it."""

import re
from dataclasses import replace
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils.html import escape

from tests.entries import enter
from tests.web.review.reports import (
    TOO_MUCH,
    USUAL,
    assess_as,
    hand_in_plan,
    hand_in_report,
    put_out,
    weigh,
)
from workups.chemistry.plan import Plan
from workups.exercise.exercise import CHECK_TITLES
from workups.grading.reagent_table import LineAnswers
from workups.grading.scoring import ROUNDED
from workups.models import (
    AuditEntry,
    MarkQuery,
    PointAdjustment,
    ReadingKind,
    Remark,
    Review,
    ReviewComment,
    Role,
)
from workups.selectors.mark_history import mark_history
from workups.selectors.marks import marks_of
from workups.selectors.reagents import given_answers, lines_of
from workups.selectors.staff_report import staff_checks
from workups.selectors.works import record_is_locked
from workups.services.bench import start_bench
from workups.services.courses import enrol_person
from workups.services.entries import EntryOrigin, ReadingValues
from workups.services.reagents import save_reagent_table
from workups.services.reports import lock_readings
from workups.services.review import NewPoints, adjust_points

POSTS = ["accept-report", "adjust-points", "comment-report", "return-report"]


def url_of(name, work):
    return reverse(name, args=[work.public_id])


def without_brine_and_drying(plan: Plan) -> Plan:
    return plan.without("dry")


@pytest.fixture
def faulty_report(work):
    """Never dried: product loss is not the matter, the drying check is."""
    return hand_in_report(work, change=without_brine_and_drying)


def test_the_page_holds_all_a_mark_rests_on(sign_in, ta, report):
    page = sign_in(ta).get(url_of("review-report", report)).content.decode()
    for text in (
        "Stina Student",
        "Points",
        "What could explain the mass",
        "explanation",
        "Fine.",
        "What was planned, and what was done",
        "45.30",
        "51.62",
        "Yield of hexyl acetate",
        "Order of steps",
        "Reagent table",
        "History of the mark",
        "Accept, ",
    ):
        assert text in page, text


def test_a_finding_stands_with_its_cost_why_and_rule(sign_in, ta, faulty_report):
    page = sign_in(ta).get(url_of("review-report", faulty_report)).content.decode()
    snapshot = faulty_report.snapshots.first()
    charged = [
        item
        for check in staff_checks(faulty_report, snapshot)
        for item in check.findings
        if item.cost
    ]
    assert charged
    for item in charged:
        assert escape(item.finding.message) in page
        assert escape(item.finding.why) in page
        assert f"costs {item.cost:.1f} points" in page
        assert reverse("show-rule", args=[item.rule_code]) in page


def test_each_answer_of_the_reagent_table_stands_with_the_word_on_it(sign_in, ta, work):
    lines = lines_of(work)
    asked = next(line for line in lines if "molar_mass" in line.asks)
    wrong = LineAnswers(molar_mass="12.3", amount_mmol="", theoretical_g="", limiting=False)
    save_reagent_table(work=work, answers={asked.key: wrong})
    hand_in_report(work)
    page = sign_in(ta).get(url_of("review-report", work)).content.decode()
    table = page[page.index('id="check-reagent_table"') :]
    table = table[: table.index("</section>")]
    assert "12.3 g/mol" in table
    assert "Add up the atoms" in table
    judged = given_answers(work)
    assert table.count("not right") == 1
    assert table.count(">no answer</span>") == len(judged) - 1


def test_the_amounts_that_the_theoretical_yield_rests_on_stand_on_the_page(sign_in, ta, work):
    used = next(line for line in lines_of(work) if not line.is_product)
    hand_in_plan(work)
    start_bench(actor=work.student, work=work)
    origin = EntryOrigin(by=work.student, client_token=uuid4())
    amount = ReadingValues(
        kind=ReadingKind.REAGENT, subject=used.key, value=Decimal("4.07"), decimals=2, unit="g"
    )
    enter(work.bench_record, origin, amount)
    weigh(work, work.student, USUAL)
    lock_readings(actor=work.student, record=work.bench_record)
    page = sign_in(ta).get(url_of("review-report", work)).content.decode()
    assert 'from the <a href="#reagents-heading">amounts really used' in page
    told = page[page.index('id="reagents-heading"') :]
    assert f">{escape(used.name)}</span>" in told
    assert "4.07" in told


def test_what_cost_points_stands_beside_them_at_the_top(sign_in, ta, faulty_report):
    page = sign_in(ta).get(url_of("review-report", faulty_report)).content.decode()
    table = page[page.index("marks-heading") : page.index("yield-heading")]
    costly = [found for check in staff_checks(faulty_report, faulty_report.snapshots.first())
              for found in check.costly]
    assert costly
    for found in costly:
        assert f"−{found.cost:.1f}</span> {escape(found.title)}" in table
    assert "By hand" not in table  # nothing was changed


def test_points_by_hand_stand_with_their_sign(sign_in, ta, report):
    client = sign_in(ta)
    data = {"check_name": "extraction", "points": "17.5", "reason": "Half a portion was spilled."}
    client.post(url_of("adjust-points", report), data)
    page = client.get(url_of("review-report", report)).content.decode()
    table = page[page.index("marks-heading") : page.index("yield-heading")]
    assert '<td class="number">−2.5</td>' in table
    assert "<strong>−2.5</strong> Half a portion" in page


@pytest.mark.parametrize(
    ("typed", "expected"), [("+1", 18.5), ("−0.5", 17.0), ("-17,5", 0.0), ("12", 12.0)]
)
def test_a_change_is_added_up_for_the_reviewer(sign_in, ta, report, typed, expected):
    client = sign_in(ta)
    data = {"check_name": "extraction", "points": "17.5", "reason": "Half a portion was spilled."}
    client.post(url_of("adjust-points", report), data)
    data |= {"points": typed, "seen": "17.50"}
    client.post(url_of("adjust-points", report), data)
    check = next(c for c in marks_of(report).checks if c.check.name == "extraction")
    assert check.points == expected


def test_overruling_what_the_mass_cost_is_filled_in_too(sign_in, ta, work):
    hand_in_report(work, TOO_MUCH)
    check = next(c for c in staff_checks(work, work.snapshots.first()) if c.name == "yield")
    (above,) = check.costly
    assert float(above.without) == pytest.approx(check.mark.points + above.cost, abs=0.006)
    page = sign_in(ta).get(url_of("review-report", work)).content.decode()
    form = page[page.index('id="yield-above-theoretical-points"') - 300 :]
    assert f'value="{above.without}"' in form[:400]


def test_a_change_that_leads_beyond_the_check_is_said_as_the_sum(sign_in, ta, report):
    data = {"check_name": "extraction", "points": "+3", "reason": "Fine.", "seen": "20.00"}
    page = sign_in(ta).post(url_of("adjust-points", report), data).content.decode()
    assert 'value="23"' in page
    assert "Between 0 and 20" in page


def finding_that_costs(work):
    """The first one, and how a form names its place."""
    check, item = next(
        (check, item)
        for check in staff_checks(work, work.snapshots.first())
        for item in check.findings
        if item.cost
    )
    place = {
        "check_name": check.name,
        "finding_code": item.finding.code,
        "step_id": item.finding.step,
    }
    return item, place


def test_overruling_a_finding_gives_back_what_it_cost(sign_in, ta, faulty_report):
    item, place = finding_that_costs(faulty_report)
    before = marks_of(faulty_report).points
    reason = "Dried over the weekend in the cupboard; seen by me."
    data = {**place, "points": str(item.without), "reason": reason}
    client = sign_in(ta)
    response = client.post(url_of("adjust-points", faulty_report), data)
    assert response.url == f"{url_of('review-report', faulty_report)}#check-{place['check_name']}"
    assert marks_of(faulty_report).points == pytest.approx(before + item.cost, abs=0.011)
    page = client.get(response.url).content.decode()
    assert "Overruled by Tariq Assistant" in page
    entry = AuditEntry.objects.get(action="overrule-finding")
    assert entry.details["finding"] == item.finding.code
    assert entry.details["reason"] == data["reason"]


def product_layer_thrown_away(plan: Plan) -> Plan:
    """The bicarbonate is kept in the place of the layer with the ester."""
    wash = plan.steps[plan.index("wash-bicarbonate")]
    return plan.replacing(replace(wash, keep="lower", other_in="waste")).without(
        "test-washings", "discard-bicarbonate")


@pytest.fixture
def ruined_report(work):
    """One mistake that takes the points of every check that speaks of the product."""
    return hand_in_report(work, change=product_layer_thrown_away)


def checks_of(work):
    return {m.check.name: m.points for m in marks_of(work).checks}


def test_one_decision_overrules_a_cause_on_all_its_checks(sign_in, ta, ruined_report):
    """A ruined product stood on the page as three findings to be overruled one by one."""
    client = sign_in(ta)
    page = client.get(url_of("review-report", ruined_report)).content.decode()
    assert "Its cause is overruled everywhere" in page
    before = checks_of(ruined_report)
    assert before["order"] == before["extraction"] == before["drying"] == 0
    cause = next(f for c in staff_checks(ruined_report, ruined_report.snapshots.first())
                 for f in c.findings if f.finding.code == "product-layer-put-aside")
    assert {title for title, _ in cause.elsewhere} >= {"Extraction", "Drying"}
    place = {"check_name": "order", "finding_code": cause.finding.code,
             "step_id": cause.finding.step}
    sent = {**place, "points": str(cause.without), "reason": "Named the other way; I saw it done."}
    client.post(url_of("adjust-points", ruined_report), sent)
    after = checks_of(ruined_report)
    for title, back in cause.elsewhere:
        name = next(k for k, v in CHECK_TITLES.items() if v == title)
        assert back > 0
        assert after[name] == pytest.approx(before[name] + back)
    page = client.get(url_of("review-report", ruined_report)).content.decode()
    assert page.count("Overruled by Tariq Assistant") == 1 + len(cause.elsewhere)
    first = PointAdjustment.objects.first()
    url = reverse("take-back-adjustment", args=[ruined_report.public_id, first.pk])
    client.post(url, {"reason": "Another report."})
    assert checks_of(ruined_report) == before


def test_what_took_most_points_of_a_check_is_told_first(ruined_report):
    """"The product is still dissolved" stood above the finding that took all 25 points."""
    checks = staff_checks(ruined_report, ruined_report.snapshots.first())
    costs = [[found.cost for found in check.findings] for check in checks]
    assert any(len(taken) > 1 for taken in costs)
    assert costs == [sorted(taken, reverse=True) for taken in costs]


def test_half_of_a_cause_given_back_is_half_of_it_everywhere(ta, ruined_report):
    before = checks_of(ruined_report)
    cause = next(f for c in staff_checks(ruined_report, ruined_report.snapshots.first())
                 for f in c.findings if f.finding.code == "product-layer-put-aside")
    half = Decimal(str(round(float(cause.without) / 2, 1)))
    adjust_points(actor=ta, work=ruined_report, change=NewPoints(
        "order", half, "Partly.", cause.finding.code, cause.finding.step))
    after = checks_of(ruined_report)
    for title, back in cause.elsewhere:
        name = next(k for k, v in CHECK_TITLES.items() if v == title)
        assert after[name] - before[name] == pytest.approx(back / 2, abs=0.11)


@pytest.mark.parametrize("change", [without_brine_and_drying, product_layer_thrown_away])
def test_points_that_are_shown_add_up(sign_in, ta, work, change):
    """Costs, check and total were rounded each by itself: 0.8 off 10 stood beside 9.3."""
    hand_in_report(work, ("45.30", "50.17", "50.16"), change=change)
    page = sign_in(ta).get(url_of("review-report", work)).content.decode()
    table = page[page.index("marks-heading"): page.index("</table>", page.index("marks-heading"))]
    total, out_of = re.search(r"([\d.]+) of ([\d.]+)</span>", table).groups()
    shown = []
    for row in table.split("<tr>")[2:]:
        points = Decimal(re.search(r"<strong>([\d.]+)</strong>", row)[1])
        most = Decimal(re.findall(r'<td class="number">([\d.]+)</td>', row)[-1])
        costs = [Decimal(c) for c in re.findall(r"−([\d.]+)</span>", row)]
        if costs:
            assert most - sum(costs) == points, row
        shown.append((points, most))
    assert sum(p for p, _ in shown) == Decimal(total)
    assert sum(m for _, m in shown) == Decimal(out_of)
    assert ROUNDED in page


def points(**changed):
    return {"check_name": "order", "points": "20", "reason": "A layer was labelled late."} | changed


@pytest.mark.parametrize("name", ["check_name", "finding_code", "step_id"])
def test_a_place_that_is_not_on_the_page_changes_nothing(sign_in, ta, faulty_report, name):
    _, place = finding_that_costs(faulty_report)
    sent = points(points="1") | place | {name: "%d of {{ 7 }}"}
    before = marks_of(faulty_report).points
    assert sign_in(ta).post(url_of("adjust-points", faulty_report), sent).status_code < 400
    assert marks_of(faulty_report).points == before


def test_points_that_somebody_else_changed_are_not_overwritten_unseen(
    sign_in, ta, instructor, report
):
    """Both open the page at 25 points; the second to send is told, looks, and sends again."""
    sign_in(instructor).post(url_of("adjust-points", report), points(points="24", seen="25.00"))
    client = sign_in(ta)
    refused = client.post(url_of("adjust-points", report), points(seen="25.00"))
    page = refused.content.decode()
    assert "it has 24.0 points now" in page
    assert "A layer was labelled late." in page
    assert 'name="seen" value="24.0"' in page
    assert PointAdjustment.objects.count() == 1
    client.post(url_of("adjust-points", report), points(seen="24.00"))
    assert next(m for m in marks_of(report).checks if m.check.name == "order").points == 20


def test_points_that_changed_are_not_accepted_unseen(sign_in, ta, instructor, report):
    page = sign_in(ta).get(url_of("review-report", report)).content.decode()
    seen = re.search(r'name="seen" value="([\d.]+)"><button type="submit" data-keys="a"', page)[1]
    sign_in(instructor).post(url_of("adjust-points", report), points())
    client = sign_in(ta)
    refused = client.post(url_of("accept-report", report), {"seen": seen}, follow=True)
    assert "Somebody changed the points" in refused.content.decode()
    assert Review.objects.get(work=report).state == Review.State.IN_REVIEW
    now = re.search(r'name="seen" value="([\d.]+)"><button', refused.content.decode())[1]
    assert float(now) == float(seen) - 5
    client.post(url_of("accept-report", report), {"seen": now})
    assert Review.objects.get(work=report).state == Review.State.REVIEWED


def test_points_are_changed_to_what_is_typed_and_taken_back(sign_in, ta, report):
    client = sign_in(ta)
    client.post(url_of("adjust-points", report), points())
    mark = next(m for m in marks_of(report).checks if m.check.name == "order")
    assert mark.points == pytest.approx(20)
    assert PointAdjustment.objects.get().delta == Decimal(-5)
    report.review.refresh_from_db()
    assert report.review.state == Review.State.IN_REVIEW
    assert report.review.reviewer == ta
    adjustment = PointAdjustment.objects.get()
    url = reverse("take-back-adjustment", args=[report.public_id, adjustment.pk])
    page = client.post(url, {"reason": ""}, follow=True).content.decode()
    assert "needs a reason too" in page
    client.post(url, {"reason": "It was labelled after all."})
    mark = next(m for m in marks_of(report).checks if m.check.name == "order")
    assert mark.points == pytest.approx(25)
    again = client.post(url, {"reason": "Once more."}, follow=True).content.decode()
    assert "taken back before" in again
    assert PointAdjustment.objects.count() == 2


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"points": ""}, "This field is required"),
        ({"points": "many"}, "A number is expected"),
        ({"points": "26"}, "Between 0 and 25"),
        ({"points": "-1"}, "Between 0 and 25"),
        ({"points": "20.125"}, "At most 1 decimal"),
        ({"points": "25"}, "has these points already"),
        ({"reason": ""}, "This field is required"),
    ],
)
def test_points_that_make_no_sense_are_said_and_what_was_typed_stays(
    sign_in, ta, report, wrong, said
):
    sent = points(**wrong)
    response = sign_in(ta).post(url_of("adjust-points", report), sent)
    assert response.status_code == 200
    page = response.content.decode()
    assert said in page
    assert "<details open>" in page
    assert sent["reason"] in page
    assert not PointAdjustment.objects.exists()


def test_a_check_that_there_is_not_is_refused(sign_in, ta, report):
    for check in ("singing", ""):
        response = sign_in(ta).post(url_of("adjust-points", report), points(check_name=check))
        assert response.status_code == 200
        assert not PointAdjustment.objects.exists()


def test_accepting_twice_keeps_the_first_word(sign_in, ta, instructor, report):
    sign_in(ta).post(url_of("accept-report", report))
    sign_in(instructor).post(url_of("accept-report", report))
    report.review.refresh_from_db()
    assert report.review.reviewer == ta
    assert report.review.snapshot == report.snapshots.first()
    assert AuditEntry.objects.filter(action="accept-report").count() == 1


def test_without_a_report_there_is_nothing_to_accept(sign_in, ta, work):
    client = sign_in(ta)
    page = client.get(url_of("review-report", work)).content.decode()
    assert "Nothing is assessed yet" in page
    for name, data in (
        ("accept-report", {}),
        ("adjust-points", points()),
        ("comment-report", {"text": "Hello."}),
        ("return-report", {"reason": "Hello."}),
    ):
        response = client.post(url_of(name, work), data, follow=True)
        assert "There is no report yet" in response.content.decode(), name


def test_a_returned_report_opens_the_record_again(sign_in, ta, report):
    client = sign_in(ta)
    response = client.post(url_of("return-report", report), {"reason": "Weigh once more."})
    report.review.refresh_from_db()
    assert report.review.state == Review.State.RETURNED
    assert not record_is_locked(report.bench_record)
    page = client.get(response.url).content.decode()
    assert "Returned for correction" in page
    assert "Accept, " not in page
    for name in ("accept-report", "return-report"):
        page = client.post(url_of(name, report), {"reason": "x"}, follow=True).content.decode()
        assert "with the student" in page


def test_returning_needs_words_and_a_report_that_is_not_released(sign_in, ta, report):
    client = sign_in(ta)
    response = client.post(url_of("return-report", report), {"reason": " "})
    assert response.status_code == 200
    assert "field--wrong" in response.content.decode()
    put_out(report)
    page = client.post(url_of("return-report", report), {"reason": "x"}, follow=True)
    assert "The result is released" in page.content.decode()


def test_only_the_same_comment_twice_in_a_row_is_one(sign_in, ta, report):
    client = sign_in(ta)
    for text in ("Well done.", "Well done.", "A pity.", "Well done."):
        client.post(url_of("comment-report", report), {"text": text})
    said = list(ReviewComment.objects.values_list("text", flat=True))
    assert said == ["Well done.", "A pity.", "Well done."]


def test_a_comment_is_kept_for_other_reports_and_taken_off_the_list(
    sign_in, ta, report, course
):
    client = sign_in(ta)
    client.post(
        url_of("comment-report", report), {"text": "Rinse the filter twice.", "keep": "on"}
    )
    remark = Remark.objects.get()
    assert "Rinse the filter twice." in client.get(
        reverse("list-remarks", args=[course.public_id])
    ).content.decode()
    data = {"remark": str(remark.public_id), "text": "And label it.", "for_staff": "on"}
    client.post(url_of("comment-report", report), data)
    last = ReviewComment.objects.last()
    assert last.text == "Rinse the filter twice.\n\nAnd label it."
    assert last.for_staff
    page = client.get(url_of("review-report", report)).content.decode()
    assert "for staff only" in page
    client.post(reverse("drop-remark", args=[remark.public_id]))
    page = client.get(url_of("review-report", report)).content.decode()
    assert f'value="{remark.public_id}"' not in page
    assert "Rinse the filter twice." in page


@pytest.mark.parametrize("sent", [{}, {"text": "  "}, {"remark": "x"}, {"text": "x" * 3001}])
def test_a_comment_without_words_is_not_saved(sign_in, ta, report, sent):
    response = sign_in(ta).post(url_of("comment-report", report), sent)
    assert response.status_code == 200
    assert not ReviewComment.objects.exists()


@pytest.fixture
def query(report, student):
    put_out(report)
    return MarkQuery.objects.create(
        review=report.review, check_name="order", text="Why not full?", asked_by=student
    )


def answer_url(query):
    return reverse("answer-query", args=[query.public_id])


def test_a_question_is_answered_and_a_changed_answer_keeps_the_first(
    sign_in, ta, report, query
):
    client = sign_in(ta)
    page = client.get(url_of("review-report", report)).content.decode()
    assert "Why not full?" in page
    assert "not answered" in page
    client.post(answer_url(query), {"answer": "The label came late."})
    client.post(answer_url(query), {"answer": "The label came after the wash."})
    query.refresh_from_db()
    assert query.answer == "The label came after the wash."
    assert query.answered_by == ta
    told = " ".join(event.details for event in mark_history(report))
    assert "before: The label came late." in told


def seen_on(page, *after):
    """The seal of the first form that follows these words of the page."""
    text = page.content.decode()
    for words in after:
        text = text[text.index(words) :]
    return re.search(r'name="seen" value="([0-9a-f]{64})"', text).group(1)


def test_an_answer_given_meanwhile_is_not_overwritten_unseen(
    sign_in, ta, instructor, report, query
):
    page = sign_in(ta).get(url_of("review-report", report))
    sent = {"answer": "No.", "seen": seen_on(page, "The student's questions")}
    sign_in(instructor).post(answer_url(query), {"answer": "Yes, I gave the points back."})
    client = sign_in(ta)
    again = client.post(answer_url(query), sent)
    assert "Somebody changed this while you had it open" in again.content.decode()
    assert "Your answer: Yes, I gave the points back." in again.content.decode()
    query.refresh_from_db()
    assert query.answer == "Yes, I gave the points back."
    client.post(answer_url(query), sent | {"seen": seen_on(again, "The student's questions")})
    query.refresh_from_db()
    assert query.answer == "No."


def test_a_report_accepted_meanwhile_is_not_returned_unseen(sign_in, ta, instructor, report):
    page = sign_in(ta).get(url_of("review-report", report))
    sent = {"reason": "Weigh again.", "seen": seen_on(page, "Return for correction")}
    sign_in(instructor).post(url_of("accept-report", report))
    client = sign_in(ta)
    again = client.post(url_of("return-report", report), sent)
    assert "Somebody changed this while you had it open" in again.content.decode()
    assert Review.objects.get(work=report).state == Review.State.REVIEWED
    seal = seen_on(again, "Return for correction")
    client.post(url_of("return-report", report), sent | {"seen": seal})
    assert Review.objects.get(work=report).state == Review.State.RETURNED


def test_a_ta_who_was_a_student_here_does_not_mark_the_own_report(
    sign_in, course, section, student, report, query
):
    enrol_person(course=course, person=student, role=Role.TA, assigned_sections=[section])
    client = sign_in(student)
    assert client.get(url_of("review-report", report)).status_code == 403
    assert client.post(url_of("accept-report", report)).status_code == 403
    assert client.post(answer_url(query), {"answer": "Yes."}).status_code == 403
    queue = client.get(reverse("review-queue", args=[course.public_id]) + "?show=all")
    assert url_of("review-report", report) not in queue.content.decode()


def test_an_answer_has_words(sign_in, ta, report, query):
    response = sign_in(ta).post(answer_url(query), {"answer": ""})
    assert response.status_code == 200
    assert "Not saved yet" in response.content.decode()


def test_the_history_tells_who_changed_what_and_why(sign_in, ta, report):
    client = sign_in(ta)
    client.post(url_of("adjust-points", report), points())
    client.post(url_of("accept-report", report))
    page = client.get(url_of("show-mark-history", report)).content.decode()
    for text in (
        "handed in the plan",
        "had it assessed",
        "readings locked",
        "Order of steps: 25 to 20 points",
        "A layer was labelled late.",
        "accepted the report",
        "Tariq Assistant",
    ):
        assert text in page, text


def test_above_theoretical_is_marked_on_the_page(sign_in, ta, work):
    hand_in_report(work, TOO_MUCH, explanation="It was wet.")
    page = sign_in(ta).get(url_of("review-report", work)).content.decode()
    assert "above theoretical" in page
    assert "above 100 %" in page


@pytest.mark.parametrize("name", ["review-report", "show-mark-history", *POSTS])
def test_reports_are_for_teaching_staff_of_the_section(
    client, sign_in, leads_to_sign_in, work, student, classmate, stockroom, outsider, ta,
    other_section, name,
):
    url = url_of(name, work)
    method = "post" if name in POSTS else "get"
    assert leads_to_sign_in(url, method)
    for person, status in ((student, 403), (classmate, 403), (stockroom, 403), (outsider, 404)):
        assert getattr(sign_in(person), method)(url).status_code == status
    assert sign_in(ta).delete(url).status_code == 405
    work.assignment.section = other_section
    work.assignment.save()
    assert getattr(sign_in(ta), method)(url).status_code == 403


def test_answers_and_remarks_are_for_teaching_staff(
    client, sign_in, leads_to_sign_in, query, student, outsider, ta, course
):
    remark = Remark.objects.create(course=course, text="x", kept_by=ta)
    for url in (answer_url(query), reverse("drop-remark", args=[remark.public_id])):
        assert leads_to_sign_in(url, "post")
        for person, status in ((student, 403), (outsider, 404)):
            assert sign_in(person).post(url).status_code == status
        assert sign_in(ta).get(url).status_code == 405
        client.logout()


def give(ta, work, points):
    change = NewPoints("order", Decimal(points), "As agreed.")
    adjust_points(actor=ta, work=work, change=change)


def order_points(work):
    return next(m.points for m in marks_of(work).checks if m.check.name == "order")


def test_points_given_after_a_lower_assessment_are_the_points_given(ta, report):
    """All were taken, then a correction computes fewer: the sum is below 0, and 3 are 3."""
    give(ta, report, "0")
    assess_as(report, "order", 2.0)
    assert order_points(report) == 0
    give(ta, report, "3")
    assert order_points(report) == 3


def test_points_given_by_hand_never_lift_a_corrected_report_above_the_rubric(ta, report):
    out_of = next(m.check.out_of for m in marks_of(report).checks if m.check.name == "order")
    assess_as(report, "order", 2.0)
    give(ta, report, str(out_of))
    assess_as(report, "order", out_of)
    assert order_points(report) == out_of
    give(ta, report, "5")
    assert order_points(report) == 5


def test_a_question_leads_to_its_answer_from_the_top(sign_in, ta, report, student):
    put_out(report)
    query = MarkQuery.objects.create(review=report.review, text="Why?", asked_by=student)
    client = sign_in(ta)
    page = client.get(url_of("review-report", report)).content.decode()
    assert f'<a class="button" href="#query-{query.public_id}">' in page
    assert page.index("queries-heading") < page.index("diagnosis-heading")
    answer = {"answer": "As the rule says."}
    client.post(reverse("answer-query", args=[query.public_id]), answer)
    assert "Answer the student" not in client.get(url_of("review-report", report)).content.decode()
