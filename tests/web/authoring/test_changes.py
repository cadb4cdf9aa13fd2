"""Pages for revisions: compared, duplicated, put away, exported and imported, students moved."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from tests.long import exercises
from workups.documents import library_names, library_text, load_exercise
from workups.models import ExerciseDraft, Review, RevisionMove
from workups.selectors.marks import newest_snapshot
from workups.services.drafts import copied_text, save_draft, start_draft
from workups.services.exercises import publish_revision
from workups.services.reports import open_review

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("few_draws")]


@pytest.fixture
def newer(revision, instructor):
    return publish_revision(
        actor=instructor,
        course=revision.course,
        key=revision.key,
        title=revision.title,
        document=revision.document.replace("\norder = 25\n", "\norder = 30\n"),
    )


def test_two_revisions_are_compared_in_words(sign_in, instructor, revision, newer):
    client = sign_in(instructor)
    url = reverse("compare-revisions", args=[newer.public_id])
    page = client.get(url).content.decode()
    assert "Order of steps: 30\xa0points instead of 25\xa0points." in page
    assert "Revision 2 against revision 1" in page
    older = reverse("compare-revisions", args=[revision.public_id])
    page = client.get(older, {"against": "2"}).content.decode()
    assert "Order of steps: 25\xa0points instead of 30\xa0points." in page
    assert client.get(older, {"against": "9"}).status_code == 200


def test_a_single_revision_says_that_it_is_alone(sign_in, instructor, revision):
    page = sign_in(instructor).get(reverse("compare-revisions", args=[revision.public_id]))
    assert "This is the only revision." in page.content.decode()


def test_a_draft_is_compared_with_what_it_began_as(sign_in, instructor, revision):
    client = sign_in(instructor)
    draft = start_draft(
        actor=instructor, course=revision.course, document=revision.document, base=revision
    )
    url = reverse("compare-draft", args=[draft.public_id])
    assert "Nothing is different." in client.get(url).content.decode()
    save_draft(
        actor=instructor, draft=draft, base_version=1,
        document=revision.document.replace("\norder = 25\n", "\norder = 30\n"),
    )
    assert "30\xa0points instead of 25\xa0points" in client.get(url).content.decode()
    save_draft(actor=instructor, draft=draft, base_version=2, document="not toml [")
    assert "has to be mended first" in client.get(url).content.decode()


def test_a_copy_has_a_key_and_title_of_its_own(sign_in, instructor, revision):
    client = sign_in(instructor)
    url = reverse("duplicate-exercise", args=[revision.public_id])
    assert "with its own key and title" in client.post(url, follow=True).content.decode()
    copy = load_exercise(ExerciseDraft.objects.get().document)
    assert copy.key == "too-much-vinegar-copy"
    assert copy.title.endswith("(copy)")
    assert copy.model_plan == revision.to_core().model_plan
    assert load_exercise(copied_text(revision.document, {copy.key})).key == f"{copy.key}-2"


@pytest.mark.parametrize("name", exercises(library_names()))
def test_a_file_taken_out_and_brought_in_is_the_same_to_the_letter(
    sign_in, instructor, course, name
):
    """Download, upload, download again: equal bytes, comments and all."""
    client = sign_in(instructor)
    text = library_text(name)
    published = publish_revision(
        actor=instructor, course=course, key=name, title=name, document=text
    )
    file = client.get(reverse("download-exercise", args=[published.public_id])).content
    upload = SimpleUploadedFile("exercise.toml", file, "application/toml")
    client.post(reverse("add-exercise", args=[course.public_id]), {"exercise_file": upload})
    draft = ExerciseDraft.objects.get()
    again = client.get(reverse("download-draft", args=[draft.public_id])).content
    assert again == file == text.encode()


def test_an_exercise_is_put_away_and_taken_out_again(sign_in, instructor, revision, assignment):
    client = sign_in(instructor)
    listed = reverse("list-exercises", args=[revision.course.public_id])
    page = client.post(reverse("archive-exercise", args=[revision.public_id]), follow=True)
    assert "is put away; its sections keep it" in page.content.decode()
    assert "Every exercise is put away." in client.get(listed).content.decode()
    show = reverse("show-exercise", args=[revision.public_id])
    assert "Take out again" in client.get(show).content.decode()
    page = client.post(reverse("reopen-exercise", args=[revision.public_id]), follow=True)
    assert "is back among the exercises" in page.content.decode()
    assert "Put away" not in client.get(listed).content.decode()


def test_students_are_moved_after_a_look_with_a_reason_and_back(
    sign_in, instructor, submitted_work, classmates_work, newer
):
    client = sign_in(instructor)
    assignment = submitted_work.assignment
    url = reverse("move-students", args=[assignment.public_id])
    form = {"to": "2", "works": [submitted_work.public_id, classmates_work.public_id]}
    page = client.post(url, form).content.decode()
    assert "Order of steps: 25.0 to 30.0" in page
    assert "No plan handed in, so there are no marks yet." in page
    assert not RevisionMove.objects.exists()
    page = client.post(url, form | {"move": "yes", "reason": " "}).content.decode()
    assert "Say why" in page
    page = client.post(
        url, form | {"move": "yes", "reason": "a slip in the rubric"}, follow=True
    ).content.decode()
    assert "2 students are moved to revision 2." in page
    assert "a slip in the rubric" in page
    submitted_work.refresh_from_db()
    assert submitted_work.revision == newer
    move = RevisionMove.objects.get(work=submitted_work)
    back = reverse("take-back-move", args=[move.public_id])
    assert "is back at revision 1." in client.post(back, follow=True).content.decode()
    submitted_work.refresh_from_db()
    assert submitted_work.revision != newer
    assert client.post(back).status_code == 403


def test_nobody_chosen_is_said(sign_in, instructor, assignment, work, newer):
    url = reverse("move-students", args=[assignment.public_id])
    page = sign_in(instructor).post(url, {"to": "2"}).content.decode()
    assert "Choose at least one student." in page


def test_released_marks_stay(sign_in, instructor, submitted_work, newer):



    review = open_review(actor=None, work=submitted_work)
    review.state, review.snapshot = Review.State.RELEASED, newest_snapshot(submitted_work)
    review.save()
    url = reverse("move-students", args=[submitted_work.assignment.public_id])
    form = {"to": "2", "works": [submitted_work.public_id], "move": "yes", "reason": "x"}
    page = sign_in(instructor).post(url, form).content.decode()
    assert "marks are released" in page
    assert not RevisionMove.objects.exists()


def test_moving_is_for_instructors(sign_in, assignment, ta, student, outsider, work):
    url = reverse("move-students", args=[assignment.public_id])
    assert [sign_in(p).get(url).status_code for p in (ta, student, outsider)] == [403, 403, 404]
