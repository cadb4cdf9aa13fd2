"""Checking a plan and handing it in."""

import pytest
from django.urls import reverse

from workups.models import SelfCheck
from workups.selectors.plans import current_plan, submitted_plan
from workups.services.planning import save_plan

pytestmark = pytest.mark.usefixtures("few_draws")


def url_of(name, work, *args):
    return reverse(name, args=[work.public_id, *args])


def replace_step(work, student, step_id, **values):
    plan = current_plan(work)
    steps = [{**s, **values} if s["id"] == step_id else s for s in plan.data["steps"]]
    save_plan(
        actor=student,
        work=work,
        data={"steps": steps},
        base_version=plan.version,
        change="Changed it",
    )


def test_a_plan_is_handed_in(sign_in, student, planned_work):
    client = sign_in(student)
    assert "Hand this plan in" in client.get(url_of("submit-plan", planned_work)).content.decode()
    response = client.post(url_of("submit-plan", planned_work), {"version": 1}, follow=True)
    assert "Your plan is handed in" in response.content.decode()
    assert submitted_plan(planned_work) is not None
    assert "Go to the bench" in response.content.decode()


def test_that_a_hold_waits_for_a_ta_is_told_at_the_hand_in_and_until_it_is_lifted(
    sign_in, student, planned_work
):
    replace_step(planned_work, student, "wash-bicarbonate", swirl_open=False)
    client = sign_in(student)
    answer = client.post(url_of("submit-plan", planned_work), {"version": 2}, follow=True)
    page = answer.content.decode()
    assert "waits for your TA’s word before it goes to the bench: A carbonate wash" in page
    assert "Go to the bench" not in page
    again = client.get(url_of("show-work", planned_work)).content.decode()
    assert "handed in, waits for your TA’s word" in again
    assert "Show the plan to your TA" in again


def test_a_plan_that_cannot_be_carried_out_is_not_handed_in(sign_in, student, planned_work):
    replace_step(planned_work, student, "dry", flask="no such flask")
    client = sign_in(student)
    assert "to mend" in client.get(url_of("submit-plan", planned_work)).content.decode()
    response = client.post(url_of("submit-plan", planned_work), {"version": 2}, follow=True)
    assert "cannot be carried out as it stands" in response.content.decode()
    assert submitted_plan(planned_work) is None


def test_a_plan_changed_in_another_window_is_shown_before_it_is_handed_in(
    sign_in, student, planned_work
):
    replace_step(planned_work, student, "dry", minutes=20.0)
    client = sign_in(student)
    response = client.post(url_of("submit-plan", planned_work), {"version": 1}, follow=True)
    assert "changed in another window" in response.content.decode()
    assert submitted_plan(planned_work) is None


def test_a_change_after_handing_in_is_said(sign_in, student, submitted_work):
    replace_step(submitted_work, student, "dry", minutes=20.0)
    page = sign_in(student).get(url_of("show-work", submitted_work)).content.decode()
    assert "changed since" in page
    assert "Submit the changed plan" in page


def test_a_self_check_shows_the_checks_and_pictures_in_shares(sign_in, student, planned_work):
    client = sign_in(student)
    response = client.post(url_of("self-check", planned_work))
    assert response.url == url_of("show-self-check", planned_work, 1)
    said = "Whether a plan is held for safety is decided with the real numbers when you hand it in."
    assert said in client.get(response.url).content.decode()
    page = client.get(response.url).content.decode()
    for words in ("Order of steps", "Extraction", "Drying", "Layers and safety", "<svg", "pH"):
        assert words in page


def test_a_finding_stands_beside_its_step_with_the_reason_behind_a_link(
    sign_in, student, planned_work
):
    """The product layer thrown away at the water wash."""
    replace_step(planned_work, student, "wash-water", keep="lower")
    client = sign_in(student)
    page = client.post(url_of("self-check", planned_work), follow=True).content.decode()
    assert "not yet" in page
    assert "Why" in page
    builder = client.get(url_of("build-plan", planned_work)).content.decode()
    assert 'class="note note--' in builder
    assert "Why, and the numbers" in builder


def test_a_self_check_names_no_grams_of_product(sign_in, student, planned_work):
    """Expected masses, bands and the model plan stay hidden before the lock."""
    replace_step(planned_work, student, "wash-water", keep="lower")
    client = sign_in(student)
    page = client.post(url_of("self-check", planned_work), follow=True).content.decode()
    expected = SelfCheck.objects.get().assessment["expected"][0]
    for mass in (expected["class_band"], expected["plan_band"]):
        for value in (mass["nominal"], mass["low"], mass["high"]):
            assert f"{value:.2f} g" not in page.replace("\u00a0", " ")
    assert "Expected of the class" not in page
    assert f"{expected['theoretical_g']:.2f}" not in page


def test_which_checks_only(sign_in, student, planned_work, assignment):
    assignment.feedback_detail = "which checks"
    assignment.save()
    replace_step(planned_work, student, "wash-brine", keep="lower")
    page = sign_in(student).post(url_of("self-check", planned_work), follow=True).content.decode()
    assert "not yet" in page
    assert "note__what" not in page
    assert "<svg" not in page


def test_an_unfinished_plan_is_not_checked(sign_in, student, work):
    save_plan(
        actor=student,
        work=work,
        data={"steps": [{"id": "s1", "verb": "cool", "typed": {}}]},
        base_version=0,
        change="Begun",
    )
    page = sign_in(student).post(url_of("self-check", work), follow=True).content.decode()
    assert "Fill in every step first" in page
    assert not SelfCheck.objects.exists()


def test_attempts_are_counted_and_end(sign_in, student, planned_work, assignment):
    assignment.feedback_attempts = 1
    assignment.save()
    client = sign_in(student)
    page = client.post(url_of("self-check", planned_work), follow=True).content.decode()
    assert "0 checks left" in page
    replace_step(planned_work, student, "dry", minutes=20.0)
    page = client.post(url_of("self-check", planned_work), follow=True).content.decode()
    assert "used all your self-checks" in page


def test_a_self_check_of_another_number_is_not_found(sign_in, student, planned_work, classmate):
    url = url_of("show-self-check", planned_work, 3)
    assert sign_in(student).get(url).status_code == 404
    assert sign_in(student).post(url).status_code == 405
    assert sign_in(classmate).get(url).status_code == 404
