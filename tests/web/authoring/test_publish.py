"""Publishing with a guard, dates by section, later changes, and who gets which revision."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from workups.documents import library_text
from workups.models import AuditEntry, ExerciseDraft, ExerciseRevision, Work
from workups.selectors.exercises import drafts_of
from workups.selectors.works import dates_of
from workups.services.drafts import start_draft
from workups.services.planning import save_plan

pytestmark = pytest.mark.usefixtures("few_draws")
ESTER = "too-much-vinegar"
READ_PAGES = ["show-exercise", "download-exercise", "assign-exercise"]
POSTS = ["revise-exercise", "try-exercise"]


@pytest.fixture
def draft(course, instructor):
    return start_draft(actor=instructor, course=course, document=library_text(ESTER))


def url_of(name, row):
    return reverse(name, args=[row.public_id])


def dates(section=None, **changed):
    now = timezone.localtime().replace(second=0, microsecond=0)
    values = {
        "opens_at": now - timedelta(hours=1),
        "plan_due": now + timedelta(days=3),
        "report_due": now + timedelta(days=9),
    } | changed
    prefix = f"{section.public_id}-" if section else ""
    data = {f"{prefix}{name}": f"{value:%Y-%m-%dT%H:%M}" for name, value in values.items()}
    return data | ({f"{prefix}chosen": "on"} if section else {})


POLICY = {"feedback_detail": "", "feedback_attempts": "", "group_size": "1"}


def test_a_draft_is_published_to_the_chosen_section_with_its_dates(
    sign_in, instructor, draft, section, other_section, student
):
    data = dates(section) | POLICY | {"feedback_detail": "which checks", "feedback_attempts": "3"}
    client = sign_in(instructor)
    response = client.post(url_of("publish-exercise", draft), data)
    revision = ExerciseRevision.objects.get()
    assert response.url == url_of("show-exercise", revision)
    assignment = revision.assignments.get()
    assert assignment.section == section
    assert assignment.feedback_policy(revision.to_core()).attempts == 3
    assert Work.objects.get().student == student
    assert revision.document == library_text(ESTER)
    assert not drafts_of(revision.course).exists()
    page = client.get(response.url).content.decode()
    assert "is published for one section" in page
    assert "Give it to more sections" in page
    assert AuditEntry.objects.get(action="publish-exercise").actor == instructor


def test_it_can_be_published_without_a_section(sign_in, instructor, draft, section):
    sign_in(instructor).post(url_of("publish-exercise", draft), POLICY)
    assert not ExerciseRevision.objects.get().assignments.exists()


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"plan_due": timezone.now() - timedelta(days=9)}, "The dates go in this order"),
        ({"report_due": timezone.now() - timedelta(days=1)}, "The dates go in this order"),
    ],
)
def test_dates_out_of_order_are_said_and_stay(
    sign_in, instructor, draft, section, change, said
):
    data = dates(section, **change) | POLICY
    response = sign_in(instructor).post(url_of("publish-exercise", draft), data)
    page = response.content.decode()
    assert response.status_code == 200
    assert said in page
    for value in data.values():
        assert value in page
    assert not ExerciseRevision.objects.exists()


@pytest.mark.parametrize("wrong", ["", "tomorrow", "2026-13-40T00:00"])
def test_a_date_that_is_none_is_asked_for(sign_in, instructor, draft, section, wrong):
    data = dates(section) | POLICY | {f"{section.public_id}-plan_due": wrong}
    response = sign_in(instructor).post(url_of("publish-exercise", draft), data)
    assert response.status_code == 200
    assert "field--wrong" in response.content.decode()


def test_dates_of_a_section_that_is_not_chosen_do_not_matter(
    sign_in, instructor, draft, section, other_section
):
    data = dates(section) | POLICY | {f"{other_section.public_id}-plan_due": ""}
    response = sign_in(instructor).post(url_of("publish-exercise", draft), data)
    assert response.status_code == 302


def failing_document():
    """No product is weighed dry: the drying step and the filtration are left out."""
    text = library_text(ESTER)
    start = text.index('[[model_plan.step]]\nverb = "dry"')
    end = text.index('[[model_plan.step]]\nverb = "tare"')
    return text[:start] + text[end:]


@pytest.fixture
def failing_draft(course, instructor):
    return start_draft(actor=instructor, course=course, document=failing_document())


def test_a_model_plan_that_fails_a_check_is_not_published_without_a_reason(
    sign_in, instructor, failing_draft
):
    client = sign_in(instructor)
    assert "fails a check" in client.get(url_of("preview-draft", failing_draft)).content.decode()
    response = client.post(url_of("publish-exercise", failing_draft), POLICY)
    assert response.status_code == 200
    assert "say why that is all right" in response.content.decode()
    assert not ExerciseRevision.objects.exists()
    data = POLICY | {"guard_reason": "The class is to find out what happens."}
    response = client.post(url_of("publish-exercise", failing_draft), data)
    assert ExerciseRevision.objects.get().guard_reason == data["guard_reason"]
    assert data["guard_reason"] in client.get(response.url).content.decode()


def test_a_new_revision_reaches_who_has_not_begun_and_leaves_the_others(
    sign_in, instructor, assignment, student, classmate, work, classmates_work
):
    save_plan(actor=student, work=work, data={"steps": []}, base_version=0, change="Began")
    client = sign_in(instructor)
    response = client.post(url_of("revise-exercise", assignment.revision))
    draft = ExerciseDraft.objects.get()
    assert response.url == url_of("edit-draft", draft)
    page = client.get(url_of("publish-exercise", draft)).content.decode()
    assert "Has revision 1" in page
    client.post(url_of("publish-exercise", draft), dates(assignment.section) | POLICY)
    work.refresh_from_db()
    classmates_work.refresh_from_db()
    assert work.revision.number == 1
    assert classmates_work.revision.number == 2
    assert classmates_work.assignment.revision.number == 2
    assert assignment.__class__.objects.filter(pk=assignment.pk).exists()


def test_an_assignment_that_nobody_began_gives_way_to_the_new_one(
    sign_in, instructor, assignment, work
):
    client = sign_in(instructor)
    client.post(url_of("revise-exercise", assignment.revision))
    draft = ExerciseDraft.objects.get()
    client.post(url_of("publish-exercise", draft), dates(assignment.section) | POLICY)
    assert not assignment.__class__.objects.filter(pk=assignment.pk).exists()
    assert AuditEntry.objects.filter(action="replace-assignment").exists()


def test_it_is_given_to_another_section_later(
    sign_in, instructor, assignment, revision, other_section
):
    client = sign_in(instructor)
    url = url_of("assign-exercise", revision)
    assert "Thursday B" in client.get(url).content.decode()
    nothing = client.post(url, POLICY)
    assert "Choose at least one section" in nothing.content.decode()
    assert client.post(url, dates(other_section) | POLICY).status_code == 302
    assert revision.assignments.count() == 2
    assert "Every section has it" in client.get(url).content.decode()


def test_dates_are_changed_and_the_change_is_logged(sign_in, instructor, assignment):
    client = sign_in(instructor)
    url = url_of("edit-assignment", assignment)
    assert client.get(url).status_code == 200
    later = timezone.now() + timedelta(days=40)
    data = dates(report_due=later) | POLICY
    assert client.post(url, data).url == url_of("show-exercise", assignment.revision)
    assignment.refresh_from_db()
    assert abs(assignment.report_due - later) < timedelta(minutes=1)
    assert AuditEntry.objects.filter(action="change-dates").exists()
    bad = client.post(url, dates(plan_due=timezone.now() + timedelta(days=99)) | POLICY)
    assert "The dates go in this order" in bad.content.decode()


def test_the_published_file_comes_back_as_it_is(sign_in, instructor, revision):
    response = sign_in(instructor).get(url_of("download-exercise", revision))
    assert response.content.decode() == revision.document
    assert 'filename="too-much-vinegar-1.toml"' in response.headers["Content-Disposition"]


def test_a_revision_that_this_program_cannot_read_is_shown_with_what_is_wrong(
    sign_in, instructor, revision
):
    ExerciseRevision.objects.update(document="x = 1")
    page = sign_in(instructor).get(url_of("show-exercise", revision)).content.decode()
    assert "cannot be carried out" in page


def test_a_published_exercise_is_tried_as_a_student(sign_in, instructor, revision):
    response = sign_in(instructor).post(url_of("try-exercise", revision))
    assert response.url == reverse("show-work", args=[Work.objects.get().public_id])


@pytest.mark.parametrize("name", READ_PAGES + POSTS)
def test_a_revision_is_the_instructors(
    client, sign_in, leads_to_sign_in, instructor, ta, student, outsider, revision, name
):
    url = url_of(name, revision)
    method = "post" if name in POSTS else "get"
    assert leads_to_sign_in(url)
    for person, status in ((ta, 403), (student, 403), (outsider, 404)):
        assert getattr(sign_in(person), method)(url).status_code == status
    assert sign_in(instructor).delete(url).status_code == 405


def test_dates_are_the_instructors(
    client, sign_in, leads_to_sign_in, instructor, ta, student, outsider, assignment
):
    url = url_of("edit-assignment", assignment)
    assert leads_to_sign_in(url)
    for person, status in ((ta, 403), (student, 403), (outsider, 404)):
        assert sign_in(person).get(url).status_code == status
    assert sign_in(instructor).delete(url).status_code == 405


def test_the_overview_tells_how_far_each_section_is(
    sign_in, instructor, ta, student, submitted_work, course
):
    url = reverse("show-course", args=[course.public_id])
    page = sign_in(instructor).get(url).content.decode()
    assert "1 of 1" in page
    assert reverse("show-door", args=[submitted_work.assignment.public_id]) in page
    seen_by_ta = sign_in(ta).get(url).content.decode()
    assert reverse("show-lab", args=[submitted_work.assignment.public_id]) in seen_by_ta
    assert "edit-assignment" not in seen_by_ta
    seen_by_student = sign_in(student).get(url).content.decode()
    assert "Plan due" in seen_by_student
    assert "Held" not in seen_by_student


def test_a_student_gets_later_dates_with_a_reason(sign_in, instructor, assignment, work, student):
    client = sign_in(instructor)
    url = url_of("give-extension", assignment)
    later = timezone.localtime() + timedelta(days=30)
    data = {
        "student": str(work.enrolment.public_id),
        "plan_due": "",
        "report_due": f"{later:%Y-%m-%dT%H:%M}",
        "reason": "Was ill.",
    }
    page = client.post(url, data, follow=True).content.decode()
    assert "Stina Student has later dates" in page
    assert "Was ill." in page
    assert dates_of(work).is_extended
    assert AuditEntry.objects.filter(action="give-extension").exists()


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"student": ""}, "This field is required"),
        ({"student": "x"}, "is not a valid UUID"),
        ({"report_due": ""}, "Give at least one later date"),
        ({"report_due": "2020-01-01T10:00"}, "Later than the section"),
        ({"reason": ""}, "This field is required"),
    ],
)
def test_an_extension_that_is_none_is_said(
    sign_in, instructor, assignment, work, wrong, said
):
    later = timezone.localtime() + timedelta(days=30)
    data = {
        "student": str(work.enrolment.public_id),
        "report_due": f"{later:%Y-%m-%dT%H:%M}",
        "reason": "Kept words.",
    } | wrong
    response = sign_in(instructor).post(url_of("give-extension", assignment), data)
    assert response.status_code == 200
    assert said in response.content.decode()
    assert not dates_of(work).is_extended


def test_extensions_are_the_instructors(
    client, sign_in, leads_to_sign_in, instructor, ta, student, outsider, assignment
):
    url = url_of("give-extension", assignment)
    assert leads_to_sign_in(url)
    for person, status in ((ta, 403), (student, 403), (outsider, 404), (instructor, 200)):
        assert sign_in(person).get(url).status_code == status
    assert sign_in(instructor).delete(url).status_code == 405
