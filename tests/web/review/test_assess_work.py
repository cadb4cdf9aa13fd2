"""What could not be computed is computed again by a button, on the report and at the door."""

from unittest.mock import Mock

import pytest
from django.urls import reverse

from tests.web.review.reports import hand_in_plan, hand_in_report
from workups.models import HandIn, Review
from workups.services.reports import assess_again
from workups.services.review import accept_report

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("few_draws", "expected_failures")]
BUTTON = "Compute it again"


def url_of(name, work):
    return reverse(name, args=[work.public_id])


@pytest.fixture
def failing(monkeypatch):
    """The core stumbles while this is on; gives what takes it off."""

    def on():
        context = pytest.MonkeyPatch()
        for name in ("assess", "_assess_plan"):
            context.setattr(
                f"workups.services.assessments.{name}", Mock(side_effect=ValueError("a hole"))
            )
        return context.undo

    undone = on()
    yield undone
    undone()


def test_a_plan_at_the_door_is_computed_again_once_the_program_is_mended(
    sign_in, ta, work, failing
):
    hand_in_plan(work)
    client = sign_in(ta)
    page = client.get(url_of("read-plan", work)).content.decode()
    assert BUTTON in page
    assert "it helps where the cause has been mended" in page
    said = client.post(url_of("assess-work", work), follow=True).content.decode()
    assert "Still not: " in said
    failing()
    said = client.post(url_of("assess-work", work), follow=True).content.decode()
    assert "It is computed, with all that came in." in said
    assert BUTTON not in said
    work.refresh_from_db()
    assert work.is_assessed


def test_a_report_is_computed_again_and_an_accepted_one_waits_again(sign_in, ta, work):
    hand_in_report(work)
    accept_report(actor=ta, work=work)
    type(work).objects.update(hand_in=HandIn.FAILED, hand_in_problem="it stumbled")
    client = sign_in(ta)
    page = client.get(url_of("review-report", work)).content.decode()
    assert BUTTON in page
    client.post(url_of("assess-work", work))
    work.refresh_from_db()
    assert work.is_assessed
    assert Review.objects.get().state == Review.State.WAITING


def test_what_somebody_accepts_as_soon_as_it_is_computed_stays_accepted(ta, work):
    """Two TAs at once: one computes it again, the other accepts what came of it."""
    hand_in_report(work)
    accept_report(actor=ta, work=work)
    assess_again(actor=ta, work=work)
    assert Review.objects.get().state == Review.State.REVIEWED


def test_what_is_assessed_stays_as_it_is(sign_in, ta, work):
    hand_in_report(work)
    accept_report(actor=ta, work=work)
    said = sign_in(ta).post(url_of("assess-work", work), follow=True).content.decode()
    assert "It is assessed already" in said
    assert Review.objects.get().state == Review.State.REVIEWED


@pytest.mark.parametrize(("who", "status"), [("student", 403), ("outsider", 404)])
def test_nobody_else_may(sign_in, request, submitted_work, who, status):
    client = sign_in(request.getfixturevalue(who))
    assert client.post(url_of("assess-work", submitted_work)).status_code == status
    assert client.get(url_of("assess-work", submitted_work)).status_code == 405
