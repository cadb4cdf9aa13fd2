"""The class picture, and marks out to the gradebook in a file that spreadsheets cannot misread."""

import csv
import io

import pytest
from django.urls import reverse

from tests.sheets.pdf_text import pages_of
from tests.web.review.reports import TOO_MUCH, hand_in_report, put_out
from workups.models import AuditEntry, Enrolment, ExerciseRevision, Review
from workups.selectors.class_picture import class_picture
from workups.selectors.gradebook import gradebook_columns, gradebook_rows
from workups.selectors.marks import marks_of
from workups.services.exercises import publish_revision
from workups.services.gradebook import BOM, spreadsheet_safe
from workups.services.review import accept_report
from workups.sheets.class_yields import stacked


def class_url(revision):
    return reverse("show-class", args=[revision.public_id])


def marks_url(course):
    return reverse("export-gradebook", args=[course.public_id])


def test_the_class_picture_shows_yields_band_and_findings(
    sign_in, instructor, report, new_work, revision, enrolment_of
):
    hand_in_report(new_work("abe.above"), TOO_MUCH, explanation="Wet.")
    picture = class_picture(revision, enrolment_of(instructor))
    (target,) = picture.targets
    (section,) = target.sections
    # 6.32 g and 9.20 g of 7.21 g (50.01 mmol of 1-hexanol, 144.21 g/mol)
    assert section.percents == pytest.approx((87.6, 127.6), abs=0.2)
    assert (section.below, section.inside, section.above) == (0, 1, 1)
    page = sign_in(instructor).get(class_url(revision)).content.decode()
    for text in (
        "2 reports",
        "Yields of hexyl acetate by section",
        "Tuesday A",
        "What was found most",
    ):
        assert text in page, text
    assert "Stina" not in page


def test_the_class_report_has_the_pages_pictures_and_no_names(
    sign_in, ta, report, new_work, revision, other_section
):
    hand_in_report(new_work("abe.above"), TOO_MUCH, explanation="Wet.")
    answer = sign_in(ta).get(reverse("print-class", args=[revision.public_id]))
    assert answer["Content-Type"] == "application/pdf"
    text = " ".join(pages_of(answer.content)).replace("\u00a0", " ")
    for words in ("2 reports", "Tuesday A: 2 reports, median", "What was found most"):
        assert words in text, words
    for hidden in ("Stina", "Abe", "Thursday B"):
        assert hidden not in text
    page = sign_in(ta).get(class_url(revision)).content.decode()
    assert page.count("<svg") == 3


def test_a_ta_sees_the_own_sections_in_the_class_picture(
    sign_in, ta, report, revision, other_section
):
    page = sign_in(ta).get(class_url(revision)).content.decode()
    assert "Tuesday A" in page
    assert "Thursday B" not in page


def test_a_class_without_reports_says_what_comes_next(sign_in, instructor, revision):
    page = sign_in(instructor).get(class_url(revision)).content.decode()
    assert "No readings are locked yet" in page


def test_the_class_picture_is_for_teaching_staff(
    client, sign_in, leads_to_sign_in, revision, student, stockroom, outsider, instructor
):
    for url in (class_url(revision), reverse("print-class", args=[revision.public_id])):
        client.logout()
        assert leads_to_sign_in(url)
        for person, status in ((student, 403), (stockroom, 403), (outsider, 404)):
            assert sign_in(person).get(url).status_code == status
        assert sign_in(instructor).post(url).status_code == 405


def test_dots_that_would_touch_stand_on_each_other():
    assert stacked([0, 4, 8, 12], 10) == [0, 1, 2, 0]
    assert stacked([], 10) == []


def download(client, course, revision, **more):
    response = client.post(marks_url(course), {"exercises": [str(revision.public_id)], **more})
    text = response.content.decode()
    assert text.startswith(BOM)
    return list(csv.DictReader(io.StringIO(text[1:])))


def test_marks_are_given_out_when_they_are_released(
    sign_in, instructor, ta, report, course, revision
):
    client = sign_in(instructor)
    column = "Too much vinegar (100 points)"
    assert download(client, course, revision)[0][column] == ""
    accept_report(actor=ta, work=report)
    assert download(client, course, revision)[0][column] == ""
    expected = f"{round(marks_of(report).points, 2):g}"
    assert download(client, course, revision, unreleased="on")[0][column] == expected
    for review in Review.objects.all():
        put_out(review.work)
    (row,) = download(client, course, revision)
    assert row[column] == expected
    assert row["name"] == "Stina Student"
    assert row["section"] == "Tuesday A"
    entry = AuditEntry.objects.filter(action="export-marks").first()
    assert entry.actor == instructor
    assert entry.details["exercises"] == [str(revision)]


@pytest.mark.parametrize(
    "name", ["=HYPERLINK(1)", "+1", "-1", "@SUM(A1)", "\t=1", " =1", "＝1", "-Ä", "\r=1"]
)
def test_no_name_becomes_a_formula(sign_in, instructor, report, course, revision, name):
    person = report.student
    person.display_name = name
    person.save()
    Enrolment.objects.filter(person=person).update(outside_id=name)
    (row,) = download(sign_in(instructor), course, revision)
    for cell in (row["name"], row["outside_id"]):
        assert cell.startswith("'")
        assert cell.replace("'", "") == name


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("Ann;=1+1", "Ann;'=1+1"),
        ("Ann,=1+1", "Ann,'=1+1"),
        ('Ann";=1+1', 'Ann";\'=1+1'),
        ("Ann; @SUM(A1)", "Ann;' @SUM(A1)"),
        ('Ann|"=1', 'Ann|\'"=1'),
        ("\u200b=1", "'\u200b=1"),
        ("\u3000=1", "'\u3000=1"),
        ('"=1', '\'"=1'),
        ("\ufeff-1", "'\ufeff-1"),
        ("Ann;\r\n=1", "Ann;'\r'\n'=1"),
        ("Ann; B-1", "Ann; B-1"),
        ("O'Neil-Å, J.", "O'Neil-Å, J."),
    ],
)
def test_no_part_of_a_name_becomes_a_formula_where_cells_end_elsewhere(name, safe):
    assert spreadsheet_safe(name) == safe


def test_two_exercises_of_one_title_are_two_columns(instructor, course, revision):
    for key, title in (("twin", revision.title), ("other", "Other")):
        publish_revision(
            actor=instructor, course=course, key=key, title=title, document=revision.document
        )
    ExerciseRevision.objects.filter(key="other").update(outside_id="section")
    headings = {c.heading for c in gradebook_columns(list(ExerciseRevision.objects.all()))}
    assert headings == {
        "Too much vinegar (100 points) [too-much-vinegar]",
        "Too much vinegar (100 points) [twin]",
        "section [other]",
    }


def test_many_marks_take_no_more_queries_than_few(
    report, new_work, ta, course, revision, django_assert_max_num_queries
):
    """Five queries, however many students there are."""
    for work in [report, *(hand_in_report(new_work(f"nora.{n}")) for n in range(3))]:
        accept_report(actor=ta, work=work)
    columns = gradebook_columns([revision])
    with django_assert_max_num_queries(5):
        rows = gradebook_rows(course, columns, [revision], unreleased=True)
    assert [row.points[0] for row in rows] == [pytest.approx(marks_of(report).points, abs=0.01)] * 4


@pytest.mark.parametrize("name", ["李 雷", "Zoë Ångström", 'O"Neil, Ann', "دانا"])
def test_names_in_any_script_come_through(sign_in, instructor, report, course, revision, name):
    report.student.display_name = name
    report.student.save()
    assert download(sign_in(instructor), course, revision)[0]["name"] == name
    assert spreadsheet_safe(name) == name


def identifiers_url(course):
    return reverse("set-outside-ids", args=[course.public_id])


def test_an_exercise_goes_out_under_the_gradebooks_own_identifier(
    sign_in, instructor, report, course, revision
):
    client = sign_in(instructor)
    for _ in range(2):
        response = client.post(identifiers_url(course), {f"for-{revision.key}": "=LINE-77"})
        assert response.url == marks_url(course)
    assert "'=LINE-77" in download(client, course, revision)[0]
    assert AuditEntry.objects.filter(action="set-outside-ids").count() == 1
    again = publish_revision(
        actor=instructor, course=course, key=revision.key, title="T", document=revision.document
    )
    assert again.outside_id == "=LINE-77"


def test_two_exercises_have_two_identifiers(sign_in, instructor, course, revision):
    publish_revision(
        actor=instructor, course=course, key="other", title="Other", document=revision.document
    )
    response = sign_in(instructor).post(
        identifiers_url(course), {f"for-{revision.key}": "same", "for-other": "same"}
    )
    assert response.status_code == 200
    assert "the same identifier" in response.content.decode()
    assert set(ExerciseRevision.objects.values_list("outside_id", flat=True)) == {""}


def test_identifiers_are_the_instructors(
    client, sign_in, leads_to_sign_in, course, revision, ta, student, stockroom, outsider
):
    url = identifiers_url(course)
    assert leads_to_sign_in(url, "post")
    for person, status in ((ta, 403), (student, 403), (stockroom, 403), (outsider, 404)):
        assert sign_in(person).post(url).status_code == status
    assert sign_in(ta).get(url).status_code == 405


def test_a_file_of_nothing_is_not_made(sign_in, instructor, course, revision):
    client = sign_in(instructor)
    for sent in ({}, {"exercises": ["x"]}):
        response = client.post(marks_url(course), sent)
        assert response["Content-Type"].startswith("text/html")
        assert "Not saved yet" in response.content.decode()
    assert not AuditEntry.objects.filter(action="export-marks").exists()


def test_marks_leave_the_house_by_the_instructor_alone(
    client, sign_in, leads_to_sign_in, course, ta, student, stockroom, outsider, instructor
):
    url = marks_url(course)
    assert leads_to_sign_in(url)
    assert "no marks" in sign_in(instructor).get(url).content.decode()
    for person, status in ((ta, 403), (student, 403), (stockroom, 403), (outsider, 404)):
        assert sign_in(person).get(url).status_code == status
        assert sign_in(person).post(url).status_code == status
    assert sign_in(instructor).delete(url).status_code == 405




def test_the_page_says_how_many_marks_are_ready(sign_in, instructor, ta, report, new_work, course):
    hand_in_report(new_work("nora.new"))
    client = sign_in(instructor)
    assert "0 of 2 released" in client.get(marks_url(course)).content.decode()
    accept_report(actor=ta, work=report)
    assert "0 of 2 released, 1 more reviewed" in client.get(marks_url(course)).content.decode()
    put_out(report)
    page = client.get(marks_url(course)).content.decode()
    assert "1 of 2 released" in page
    assert "not shown to students yet" not in page
    Review.objects.exclude(work=report).update(state=Review.State.RETURNED)
    page = client.get(marks_url(course)).content.decode()
    assert "1 of 2 released; not shown to students yet: 1" in page
