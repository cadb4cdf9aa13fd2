"""Where the second step is demanded, whoever teaches sets it up before anything else."""

import pytest
from django.urls import reverse
from django.utils import timezone
from pyotp import TOTP

from tests.web.access_table import TABLE
from tests.web.walker import named_patterns
from workups.models import SecondStep
from workups.services.courses import end_enrolment
from workups.services.second_step import key_of

SET_UP = reverse("set-up-second-step")


@pytest.fixture(autouse=True)
def _demanded(settings, monkeypatch):
    monkeypatch.setattr("workups.services.second_step.HASH_ROUNDS", 2)
    settings.SECOND_STEP_DEMANDED = True


def plain_pages():
    """Every address without a place in it, but for those that need no sign-in."""
    for pattern in named_patterns():
        open_to_all = not getattr(pattern.callback, "login_required", True)
        if not pattern.pattern.converters and not open_to_all and pattern.name in TABLE:
            yield reverse(pattern.name)


@pytest.mark.parametrize("method", ["get", "post"])
def test_every_other_page_leads_there(sign_in, course, ta, method):
    client = sign_in(ta)
    pages = {*plain_pages(), reverse("show-course", args=[course.public_id])} - {SET_UP}
    assert len(pages) > 5
    for page in sorted(pages):
        response = getattr(client, method)(page)
        assert (response.status_code, response.headers.get("Location")) == (302, SET_UP), page


def test_a_live_part_leads_the_whole_page_there(sign_in, ta):
    response = sign_in(ta).get("/", headers={"HX-Request": "true"})
    assert response.headers["HX-Redirect"] == SET_UP


def test_once_it_is_set_up_all_is_open(sign_in, ta):
    client = sign_in(ta)
    page = client.get("/", follow=True).content.decode()
    assert "asks everybody who teaches" in page
    assert "Leave it" not in page
    code = TOTP(key_of(SecondStep.objects.get(person=ta))).at(timezone.now())
    page = client.post(SET_UP, {"code": code, "password": "correct horse"}).content.decode()
    assert "Recovery codes" in page
    assert client.get("/").status_code == 200
    assert client.get("/me/").status_code == 200


def test_turned_off_it_is_to_be_set_up_again(sign_in, ta):
    test_once_it_is_set_up_all_is_open(sign_in, ta)
    client = sign_in(ta)
    client.post(reverse("drop-second-step"), {"password": "correct horse"})
    assert client.get("/").url == SET_UP


def test_it_asks_nothing_of_students_and_the_stockroom(sign_in, student, stockroom):
    assert sign_in(student).get("/").status_code == 200
    assert sign_in(stockroom).get("/").status_code == 200


def test_whoever_may_open_courses_needs_it_and_whoever_has_left_does_not(
    sign_in, ta, outsider, instructor, enrolment_of, student
):
    student.may_open_courses = True
    student.save()
    assert sign_in(student).get("/").url == SET_UP
    assert sign_in(outsider).get("/").url == SET_UP
    end_enrolment(actor=instructor, enrolment=enrolment_of(ta))
    assert sign_in(ta).get("/").status_code == 200


def test_signing_out_and_the_station_stay_open(sign_in, ta):
    client = sign_in(ta)
    assert client.get(reverse("enter-station")).status_code == 200
    assert client.post(reverse("sign-out")).url == reverse("sign-in")


def test_it_is_off_unless_asked_for(sign_in, ta, settings):
    settings.SECOND_STEP_DEMANDED = False
    page = sign_in(ta).get(SET_UP).content.decode()
    assert "asks everybody who teaches" not in page
    assert "Leave it" in page
