"""The funnel beside a step: worked out on demand, never more than the exercise tells."""

import pytest
from django.urls import reverse

from workups.chemistry.plan import Parting
from workups.documents import library_text, plan_to_data
from workups.grading.visibility import Moment, shown_steps
from workups.services.assessments import assess_publicly, look_publicly
from workups.services.exercises import publish_revision
from workups.services.planning import save_plan

pytestmark = pytest.mark.usefixtures("few_draws")


@pytest.fixture
def policy() -> str:
    """Lines of the exercise's policy."""
    return ""


@pytest.fixture
def revision(course, instructor, policy):
    own = library_text("too-much-vinegar")
    text = own.replace('detail = "all but the answer"\nattempts = 0\n', policy)
    assert text != own
    return publish_revision(
        actor=instructor, course=course, key="too-much-vinegar", title="Vinegar", document=text)


def shakes_of(work):
    return [s for s in work.to_core().model_plan.steps if isinstance(s, Parting)]


def url_of(work, step):
    return reverse("show-shake", args=[work.public_id, step.id])


def test_the_plan_offers_the_funnel_at_every_shake_and_each_is_drawn(
    sign_in, student, planned_work
):
    client = sign_in(student)
    plan_page = client.get(reverse("build-plan", args=[planned_work.public_id])).content.decode()
    for step in shakes_of(planned_work):
        assert url_of(planned_work, step) in plan_page
        page = client.get(url_of(planned_work, step)).content.decode()
        assert "Before the shake" in page
        assert "<html" in page
        part = client.get(url_of(planned_work, step), headers={"HX-Request": "true"})
        assert "Before the shake" in part.content.decode()
        assert "<html" not in part.content.decode()


def test_opening_the_plan_computes_nothing(sign_in, student, planned_work, monkeypatch):
    def refuse(*_):
        raise AssertionError("computed without being asked")

    monkeypatch.setattr("workups.web.planning.shake_views.look_publicly", refuse)
    sign_in(student).get(reverse("build-plan", args=[planned_work.public_id]))


def test_it_has_the_numbers_of_the_self_check(planned_work):
    plan = planned_work.to_core().model_plan
    looked, checked = look_publicly(planned_work, plan), assess_publicly(planned_work, plan)
    assert shown_steps(looked, Moment.PLANNING) == shown_steps(checked, Moment.PLANNING)


def test_a_plan_that_ends_in_an_open_step_is_drawn_so_far(sign_in, student, work):
    steps = plan_to_data(work.to_core().model_plan)
    first = shakes_of(work)[0]
    at = next(i for i, s in enumerate(steps) if s["id"] == first.id)
    data = {"steps": [*steps[:at + 1], {"id": "x", "verb": "wash", "typed": {}}]}
    save_plan(actor=student, work=work, data=data, base_version=0, change="Half of it")
    client = sign_in(student)
    assert "Before the shake" in client.get(url_of(work, first)).content.decode()
    assert client.get(url_of(work, shakes_of(work)[1])).status_code == 404


def test_a_step_that_shakes_nothing_has_no_funnel(sign_in, student, planned_work):
    cool = next(s for s in planned_work.to_core().model_plan.steps if s.verb == "cool")
    assert sign_in(student).get(url_of(planned_work, cool)).status_code == 404


@pytest.mark.parametrize("policy", [
    'detail = "which checks"\n', "attempts = 2\n", 'scheme = "after hand-in"\n'])
def test_what_the_exercise_keeps_back_is_not_drawn(sign_in, student, planned_work, policy):
    step = shakes_of(planned_work)[0]
    page = sign_in(student).get(url_of(planned_work, step)).content.decode()
    assert "Before the shake" not in page
    assert "In this exercise" in page


@pytest.mark.parametrize("policy", ["attempts = 2\n"])
def test_where_checks_are_counted_the_plan_that_was_checked_is_drawn(
    sign_in, student, planned_work, policy
):
    client, step = sign_in(student), shakes_of(planned_work)[0]
    client.post(reverse("self-check", args=[planned_work.public_id]))
    assert "Before the shake" in client.get(url_of(planned_work, step)).content.decode()


@pytest.mark.parametrize("policy", ['predict = "ask first"\n'])
def test_where_the_exercise_asks_first_the_answer_comes_after_the_choice(
    sign_in, student, planned_work, policy
):
    client, step = sign_in(student), shakes_of(planned_work)[0]
    url = url_of(planned_work, step)
    asked = client.get(url).content.decode()
    assert "Which layer lies on top?" in asked
    assert "Before the shake" not in asked
    half = client.get(url, {"top": "organic"}).content.decode()
    assert "Before the shake" not in half
    told = client.get(url, {"top": "aqueous", "product-1": "organic", "gas": "no"})
    page = told.content.decode()
    assert "you said the aqueous layer; it is the organic layer" in page
    assert "As you said:</span> in the organic layer" in page
    assert "Before the shake" in page
    check = client.post(reverse("self-check", args=[planned_work.public_id]))
    checked = client.get(check.url).content.decode()
    assert "Before the shake" not in checked
    assert url in checked
