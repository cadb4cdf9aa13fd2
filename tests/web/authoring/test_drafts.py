"""From the library, a file or a text to a draft, its text and its preview."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from workups.chemistry.speciation import NotConverged
from workups.documents import library_text, load_exercise
from workups.models import AuditEntry, Course, ExerciseDraft, Work
from workups.selectors.exercises import drafts_of
from workups.services.drafts import start_draft

pytestmark = pytest.mark.usefixtures("few_draws")
ESTER = "too-much-vinegar"
WRONG = library_text(ESTER).replace("mass_g = 5.11", 'mass_g = "five"')
DRAFT_PAGES = ["preview-draft", "edit-draft", "download-draft", "publish-exercise"]
DRAFT_POSTS = ["discard-draft", "try-draft"]


@pytest.fixture
def draft(course, instructor):
    return start_draft(actor=instructor, course=course, document=library_text(ESTER))


def add_url(course):
    return reverse("add-exercise", args=[course.public_id])


def url_of(name, draft):
    return reverse(name, args=[draft.public_id])


def test_a_library_exercise_becomes_a_draft_with_a_preview(sign_in, instructor, course):
    client = sign_in(instructor)
    response = client.post(add_url(course), {"library": ESTER})
    draft = ExerciseDraft.objects.get()
    assert response.url == url_of("preview-draft", draft)
    page = client.get(response.url).content.decode()
    for text in (
        "hexyl acetate",
        "What a class may expect",
        "from memory: check",
        "leaves with the vapour at step 13",
        "Gas",
        "Water and drying agent",
        "Recovery of hexyl acetate by number of portions",
        "Let ‘reaction flask’ cool to",
        "Glacial acetic acid and sulfuric acid burn",
    ):
        assert text in page, text
    assert "fails a check" not in page


def test_a_file_becomes_a_draft(sign_in, instructor, course):
    upload = SimpleUploadedFile("own.toml", library_text(ESTER).encode())
    response = sign_in(instructor).post(add_url(course), {"exercise_file": upload})
    assert response.url == url_of("preview-draft", ExerciseDraft.objects.get())


@pytest.mark.parametrize("field", ["exercise_file", "exercise_text"])
def test_a_mistake_is_named_with_line_and_key_and_the_text_is_kept(
    sign_in, instructor, course, field
):
    sent = SimpleUploadedFile("own.toml", WRONG.encode()) if field == "exercise_file" else WRONG
    client = sign_in(instructor)
    response = client.post(add_url(course), {field: sent})
    draft = ExerciseDraft.objects.get()
    assert response.url == url_of("edit-draft", draft)
    page = client.get(response.url).content.decode()
    line = WRONG.split("\n").index('mass_g = "five"') + 1
    assert f'data-label="Line">{line}</td>' in page
    assert "reaction.reagent[1].mass_g" in page
    assert "mass_g = &quot;five&quot;" in page


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({}, "Choose an exercise, a file, or paste its text"),
        ({"library": ESTER, "exercise_text": "x = 1"}, "One of the three"),
        ({"library": "no-such"}, "Select a valid choice"),
        ({"exercise_file": b"\xff\xfe\x00"}, "This file is a binary file"),
        ({"exercise_file": b"\xe9"}, "This file is not UTF-8 text"),
        ({"exercise_file": b"#" * 200_001}, "This file is too large"),
    ],
)
def test_what_cannot_be_taken_is_said_and_nothing_is_kept(
    sign_in, instructor, course, data, said
):
    if "exercise_file" in data:
        data = {"exercise_file": SimpleUploadedFile("own.toml", data["exercise_file"])}
    response = sign_in(instructor).post(add_url(course), data)
    assert response.status_code == 200
    assert said in response.content.decode()
    assert not ExerciseDraft.objects.exists()


def test_what_was_typed_stays_when_two_things_were_chosen(sign_in, instructor, course):
    response = sign_in(instructor).post(
        add_url(course), {"library": ESTER, "exercise_text": "kept = 1"}
    )
    page = response.content.decode()
    assert "kept = 1" in page
    assert f'value="{ESTER}" id="id_library' in page
    assert "checked" in page


def test_the_text_is_edited_in_the_browser(sign_in, instructor, draft):
    client = sign_in(instructor)
    text = draft.document.replace("mass_g = 5.11", "mass_g = 10.22")
    response = client.post(
        url_of("edit-draft", draft), {"document": text.replace("\n", "\r\n"), "version": 1}
    )
    assert response.url == url_of("preview-draft", draft)
    draft.refresh_from_db()
    assert draft.version == 2
    assert load_exercise(draft.document).setup.reaction.reagents[0].mass_g == 10.22
    assert "10.22" in client.get(response.url).content.decode()


def test_a_text_that_is_wrong_is_kept_and_leads_back_to_itself(sign_in, instructor, draft):
    client = sign_in(instructor)
    response = client.post(url_of("edit-draft", draft), {"document": WRONG, "version": 1})
    assert response.url == url_of("edit-draft", draft)
    assert "The text cannot be used yet" in client.get(response.url).content.decode()
    assert "cannot be used yet" in client.get(url_of("preview-draft", draft)).content.decode()
    assert client.post(url_of("try-draft", draft)).url == url_of("edit-draft", draft)
    assert client.get(url_of("publish-exercise", draft)).url == url_of("preview-draft", draft)


def test_an_empty_text_is_not_saved(sign_in, instructor, draft):
    response = sign_in(instructor).post(
        url_of("edit-draft", draft), {"document": "", "version": 1}
    )
    assert response.status_code == 200
    assert "Not saved yet" in response.content.decode()


def test_two_who_edit_at_once_overwrite_nothing_unasked(sign_in, instructor, draft):
    client = sign_in(instructor)
    url = url_of("edit-draft", draft)
    client.post(url, {"document": draft.document + "# theirs\n", "version": 1})
    response = client.post(url, {"document": draft.document + "# mine\n", "version": 1})
    assert response.status_code == 200
    page = response.content.decode()
    assert "saved another text meanwhile" in page
    assert "# mine" in page
    assert "# theirs" in page
    assert 'name="version" value="2"' in page
    draft.refresh_from_db()
    assert draft.document.endswith("# theirs\n")
    again = client.post(url, {"document": draft.document + "# mine\n", "version": 2})
    assert again.status_code == 302


def test_a_model_plan_that_stops_is_said_instead_of_a_preview(
    sign_in, instructor, draft, monkeypatch
):
    """No text that can be read is known to stop the simulation, so the stop is made here."""

    def stop(*args, **kwargs):
        raise NotConverged("step wash-water: no pH was found")

    monkeypatch.setattr("workups.services.publishing.assess", stop)
    client = sign_in(instructor)
    page = client.get(url_of("preview-draft", draft)).content.decode()
    assert "cannot be carried out" in page
    assert "no pH was found" in page
    assert client.get(url_of("publish-exercise", draft)).url == url_of("preview-draft", draft)


def test_the_file_comes_back_as_it_went_in(sign_in, instructor, draft):
    response = sign_in(instructor).get(url_of("download-draft", draft))
    assert response.content.decode() == library_text(ESTER)
    assert "attachment" in response.headers["Content-Disposition"]


def test_a_draft_is_thrown_away_and_that_is_logged(sign_in, instructor, draft):
    response = sign_in(instructor).post(url_of("discard-draft", draft))
    assert response.url == reverse("list-exercises", args=[draft.course.public_id])
    assert not drafts_of(draft.course).exists()
    assert AuditEntry.objects.filter(action="discard-draft").exists()


def test_the_instructor_tries_the_draft_as_a_student(sign_in, instructor, draft, course):
    client = sign_in(instructor)
    response = client.post(url_of("try-draft", draft))
    work = Work.objects.get()
    assert response.url == reverse("show-work", args=[work.public_id])
    assert work.student == instructor
    assert work.revision.course != course
    assert client.get(response.url).status_code == 200
    assert client.get(reverse("build-plan", args=[work.public_id])).status_code == 200
    assert not course.revisions.exists()
    client.post(url_of("try-draft", draft))
    assert Work.objects.count() == 1
    ExerciseDraft.objects.update(document=draft.document + "# changed\n")
    client.post(url_of("try-draft", draft))
    assert [w.revision.number for w in Work.objects.order_by("pk")] == [1, 2]
    assert Course.objects.filter(term="try-out").count() == 1


@pytest.mark.parametrize("name", DRAFT_PAGES + DRAFT_POSTS)
@pytest.mark.parametrize("who", ["ta", "student", "stockroom"])
def test_drafts_are_the_instructors(sign_in, draft, name, who, request):
    person = request.getfixturevalue(who)
    method = "post" if name in DRAFT_POSTS else "get"
    assert getattr(sign_in(person), method)(url_of(name, draft)).status_code == 403


@pytest.mark.parametrize("name", DRAFT_PAGES + DRAFT_POSTS)
def test_an_outsider_finds_no_draft(sign_in, outsider, draft, name):
    method = "post" if name in DRAFT_POSTS else "get"
    assert getattr(sign_in(outsider), method)(url_of(name, draft)).status_code == 404


@pytest.mark.parametrize("name", DRAFT_PAGES + DRAFT_POSTS)
def test_a_draft_needs_sign_in_and_a_fitting_method(
    client, sign_in, leads_to_sign_in, instructor, draft, name
):
    assert leads_to_sign_in(url_of(name, draft))
    assert sign_in(instructor).delete(url_of(name, draft)).status_code == 405
    if name in DRAFT_POSTS:
        assert sign_in(instructor).get(url_of(name, draft)).status_code == 405


def test_the_lists_of_exercises_are_the_instructors(
    client, sign_in, leads_to_sign_in, course, instructor, ta, outsider
):
    for url in (add_url(course), reverse("list-exercises", args=[course.public_id])):
        assert leads_to_sign_in(url)
        assert sign_in(instructor).get(url).status_code == 200
        assert sign_in(instructor).delete(url).status_code == 405
        assert sign_in(ta).get(url).status_code == 403
        assert sign_in(outsider).get(url).status_code == 404
        client.logout()


def test_the_list_says_what_comes_next_and_then_holds_draft_and_revision(
    sign_in, instructor, course, draft, revision
):
    page = sign_in(instructor).get(reverse("list-exercises", args=[course.public_id]))
    text = page.content.decode()
    assert url_of("preview-draft", draft) in text
    assert reverse("show-exercise", args=[revision.public_id]) in text
