"""Prep sheets for the stockroom, and the page of every rule."""

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.html import escape

from tests.sheets.pdf_text import pages_of, size_mm
from workups.explanation.left_out import LEFT_OUT
from workups.grading.rule import RULES
from workups.selectors.method import passages_of, rule_groups


def sheet_url(assignment):
    return reverse("show-prep-sheet", args=[assignment.public_id])


def list_url(course):
    return reverse("list-prep-sheets", args=[course.public_id])


@pytest.mark.parametrize("who", ["instructor", "ta", "stockroom"])
def test_staff_read_the_prep_sheet(sign_in, assignment, course, work, who, request):
    client = sign_in(request.getfixturevalue(who))
    assert sheet_url(assignment) in client.get(list_url(course)).content.decode()
    page = client.get(sheet_url(assignment)).content.decode()
    for text in ("methyl tert-butyl ether", "separatory funnel", "rotary evaporator", "Acid waste"):
        assert text in page.replace("Rotary", "rotary"), text


@pytest.mark.parametrize("who", ["instructor", "ta"])
def test_teaching_staff_get_the_sheet_with_the_masses(sign_in, assignment, work, who, request):
    client = sign_in(request.getfixturevalue(who))
    url = reverse("print-ta-sheet", args=[assignment.public_id])
    assert url in client.get(sheet_url(assignment)).content.decode()
    answer = client.get(url)
    assert answer["Content-Type"] == "application/pdf"
    assert "staff only" in pages_of(answer.content)[0]


def with_emergency(assignment):
    """The exercise and the course each say something of their own, and where to read more."""
    revision = assignment.revision
    own = (
        '[texts]\nemergency = "Acid in the eye: rinse."\n'
        'safety_sheet = [{ name = "MTBE", url = "https://sds.example/mtbe" }]\n'
    )
    revision.document = revision.document.replace("[texts]\n", own)
    revision.save(update_fields=["document"])
    revision.course.emergency_text = "Call 4444."
    revision.course.sds_links = [{"label": "Room rules", "url": "https://rules.example/"}]
    revision.course.save()
    return assignment


def test_staff_sheets_say_what_the_exercise_and_the_course_say_for_an_emergency(
    sign_in, ta, assignment
):
    """The exercise's own first; the sheet of the week has both in its total and its parts."""
    public_id, client = with_emergency(assignment).public_id, sign_in(ta)
    week = timezone.localtime(assignment.plan_due).isocalendar()
    course_id = assignment.revision.course.public_id
    said = (
        "Emergency. Acid in the eye: rinse. Call 4444. Safety data sheets: "
        "MTBE https://sds.example/mtbe; Room rules https://rules.example/"
    )
    for name, arguments, times in (
        ("print-prep-sheet", [public_id], 1),
        ("print-ta-sheet", [public_id], 1),
        ("print-week", [course_id, week.year, week.week], 2),
    ):
        pages = pages_of(client.get(reverse(name, args=arguments)).content)
        assert " ".join(pages).count(said) == times, name
    page = client.get(sheet_url(assignment)).content.decode()
    assert page.index("Acid in the eye") < page.index("Call 4444.")
    for link in ("https://sds.example/mtbe", "https://rules.example/"):
        assert f'href="{link}"' in page


def test_the_stockroom_gets_the_week_and_the_section_but_no_masses(
    sign_in, stockroom, bench_work, classmates_work
):
    """One file holds the section: prep sheet, bench sheet and labels, by code, without names."""
    assignment, client = bench_work.assignment, sign_in(stockroom)
    page = client.get(list_url(bench_work.revision.course)).content.decode()
    week = timezone.localtime(assignment.plan_due).isocalendar()
    week_url = reverse(
        "print-week", args=[bench_work.revision.course.public_id, week.year, week.week]
    )
    section_url = reverse("print-section", args=[assignment.public_id])
    assert week_url in page
    assert section_url in page
    assert "ta-sheet" not in page
    total = " ".join(pages_of(client.get(week_url).content))
    assert "All sections of the week together" in total
    pages = pages_of(client.get(section_url, {"spare": "20", "paper": "Letter"}).content)
    text = " ".join(pages)
    assert "2 students, 1 set" in text
    (labels,) = [page for page in pages if "one label for each container" in page]
    assert "Acid waste" in labels
    assert text.count("Amounts really used") == 1  # the classmate has no whole plan yet
    assert f"Bench code {bench_work.bench_code}" in text
    assert bench_work.student.display_name not in text
    assert client.get(reverse("print-ta-sheet", args=[assignment.public_id])).status_code == 403


def test_the_paper_chosen_once_holds_for_every_link(sign_in, stockroom, assignment, course):
    client = sign_in(stockroom)
    page = client.get(list_url(course), {"paper": "Letter"}).content.decode()
    url = reverse("print-prep-sheet", args=[assignment.public_id])
    assert f'href="{url}?paper=Letter"' in page
    assert size_mm(client.get(url, {"paper": "Letter"}).content) == (216, 279)
    assert "?paper" not in client.get(list_url(course)).content.decode()


def test_a_week_without_anything_says_so(sign_in, stockroom, course):
    url = reverse("print-week", args=[course.public_id, 2030, 99])
    page = sign_in(stockroom).get(url, follow=True).content.decode()
    assert "Nothing is to be put out in that week." in page


def test_totals_follow_students_and_spare(sign_in, stockroom, assignment, work, classmates_work):
    """Two students who share a record are one set: 50 mL of MTBE, 60 with a fifth to spare."""
    client = sign_in(stockroom)
    page = client.get(sheet_url(assignment), {"spare": "20"}).content.decode()
    assert "For 2 students" in page
    assert '<td class="number">60\xa0mL</td><td class="number">50\xa0mL</td>' in page
    assert "20 % to spare" in page


@pytest.mark.parametrize("spare", ["", "7", "x"])
def test_a_spare_that_is_not_offered_is_said(sign_in, stockroom, assignment, spare):
    response = sign_in(stockroom).get(sheet_url(assignment), {"spare": spare})
    assert response.status_code == 200
    page = response.content.decode()
    assert "field--wrong" in page
    assert "10 % to spare" in page


def test_prep_sheets_are_for_staff_of_the_section(
    client, sign_in, leads_to_sign_in, assignment, course, student, outsider, ta, other_section,
    stockroom,
):
    for url in (sheet_url(assignment), list_url(course)):
        assert leads_to_sign_in(url)
        assert sign_in(student).get(url).status_code == 403
        assert sign_in(outsider).get(url).status_code == 404
        assert sign_in(stockroom).post(url).status_code == 405
        client.logout()
    assignment.section = other_section
    assignment.save()
    assert sign_in(ta).get(sheet_url(assignment)).status_code == 403


def test_the_list_says_when_there_is_nothing_to_put_out(sign_in, stockroom, course):
    assert "No exercise is given" in sign_in(stockroom).get(list_url(course)).content.decode()


@pytest.mark.parametrize("code", sorted({r.rule.code for g in rule_groups() for r in g.pages}))
def test_every_rule_has_a_page_with_its_prose_and_source(sign_in, student, code):
    page = sign_in(student).get(reverse("show-rule", args=[code])).content.decode()
    rule = RULES[code]
    assert escape(rule.title) in page
    assert escape(rule.source) in page
    assert len(rule.text) > 40
    assert escape(" ".join(rule.text.split("\n\n")[0].split())) in page


def test_all_rules_are_listed_for_who_is_signed_in(
    client, sign_in, leads_to_sign_in, student
):
    url = reverse("list-rules")
    assert leads_to_sign_in(url)
    page = sign_in(student).get(url).content.decode()
    assert page.count('href="/rules/') >= len(RULES)
    assert sign_in(student).post(url).status_code == 405
    assert sign_in(student).get(reverse("show-rule", args=["no-such-rule"])).status_code == 404


def test_what_is_not_known_is_told_to_who_is_signed_in(sign_in, leads_to_sign_in, student):
    url = reverse("show-limits")
    assert leads_to_sign_in(url)
    client = sign_in(student)
    page = client.get(url).content.decode()
    for effect in LEFT_OUT:
        assert f'id="{effect.key}"' in page
        assert escape(effect.size) in page
    assert "All exercises of the library." in page
    assert client.post(url).status_code == 405
    for name in ("show-method", "list-rules"):
        assert url in client.get(reverse(name)).content.decode()


def test_the_method_is_told_in_the_codes_own_words(client, sign_in, leads_to_sign_in, student):
    url = reverse("show-method")
    assert leads_to_sign_in(url)
    page = sign_in(student).get(url).content.decode()
    assert "the balance" in page
    assert "<pre" in page
    assert "n_i = n_i(0) exp(-P_i xi)" in page
    assert "Parameters" not in page
    assert "&gt;&gt;&gt;" not in page
    assert sign_in(student).post(url).status_code == 405


def test_a_docstring_is_cut_to_its_prose():
    text = "Sum of ``a``.\n\n    a = b\n\n>>> 1\n1\n\nMore.\n\nParameters\n----------\na : no"
    found = [(p.text, p.is_equation) for p in passages_of(text)]
    assert found == [("Sum of a.", False), ("a = b", True), ("More.", False)]
