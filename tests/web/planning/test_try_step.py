"""An idea to be found out by playing, on the student's own step."""

import pytest
from django.urls import reverse

from workups.documents import library_text
from workups.services.exercises import publish_revision

TELLS_ALL = 'detail = "all but the answer"\n'

pytestmark = pytest.mark.usefixtures("few_draws")


@pytest.fixture
def policy() -> str:
    return TELLS_ALL


@pytest.fixture
def revision(course, instructor, policy):
    own = library_text("bottom-layer")
    text = own.replace(TELLS_ALL, policy)
    return publish_revision(
        actor=instructor, course=course, key="bottom-layer", title="Caffeine", document=text)


def url_of(work, step="extract", idea="portions"):
    return reverse("try-step", args=[work.public_id, step, idea])


def test_before_a_choice_the_page_asks_and_draws(sign_in, student, planned_work):
    page = sign_in(student).get(url_of(planned_work)).content.decode()
    assert "How many portions are enough" in page
    assert "says--" not in page
    assert page.count('type="radio"') == 6
    assert 'value="2" checked' in page  # three portions, as the plan has it


def test_a_choice_is_answered_as_page_and_as_part(sign_in, student, planned_work):
    client = sign_in(student)
    right = client.get(url_of(planned_work), {"at": "2"}).content.decode()
    few = client.get(url_of(planned_work), {"at": "0"}, headers={"HX-Request": "true"})
    many = client.get(url_of(planned_work), {"at": "5"}).content.decode()
    assert "says--right" in right
    assert "Not yet" in few.content.decode()
    assert "<html" not in few.content.decode()
    assert "less would do" in many


@pytest.mark.parametrize("sent", ["6", "-1", "many", "٣", "9" * 5000])
def test_what_is_no_choice_is_taken_for_none(sign_in, student, planned_work, sent):
    answer = sign_in(student).get(url_of(planned_work), {"at": sent})
    assert answer.status_code == 200
    assert "says--" not in answer.content.decode()


@pytest.mark.parametrize(
    ("step", "idea"), [("extract", "pH"), ("extract", "none"), ("nowhere", "portions")])
def test_what_cannot_be_tried_there_is_not_there(sign_in, student, planned_work, step, idea):
    assert sign_in(student).get(url_of(planned_work, step, idea)).status_code == 404


@pytest.mark.parametrize("policy", ['detail = "which checks"\n'])
def test_where_shares_are_kept_back_nothing_is_tried(sign_in, student, planned_work, policy):
    page = sign_in(student).get(url_of(planned_work)).content.decode()
    assert "come with the release" in page
    assert 'type="radio"' not in page
