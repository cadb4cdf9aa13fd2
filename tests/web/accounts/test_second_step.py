"""Sign-in in two steps: a code of the authenticator or from paper, each once, and no way round."""

import re
from base64 import b32encode

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse
from django.utils import timezone
from pyotp import TOTP

from workups.models import AuditEntry, RecoveryCode, SecondStep
from workups.services.accounts import Site, password_link
from workups.services.second_step import (
    WRONG_CODES,
    TooManyCodes,
    WrongCode,
    begin_second_step,
    check_code,
    confirm_second_step,
    drop_second_step,
    key_of,
)

SIGN_IN, SET_UP = reverse("sign-in"), reverse("set-up-second-step")
CONFIRM, DROP = reverse("confirm-sign-in"), reverse("drop-second-step")
PASSWORD = "correct horse"
GOOD = {"username": "tariq.assistant", "password": PASSWORD}
SITE = Site(origin="http://testserver")


@pytest.fixture(autouse=True)
def _clock(time_machine, monkeypatch):
    monkeypatch.setattr("workups.services.second_step.HASH_ROUNDS", 2)
    time_machine.move_to("2026-09-01T08:00:00+00:00", tick=False)


def code_of(person, *, seconds=0):
    step = SecondStep.objects.get(person=person)
    return TOTP(key_of(step)).at(int(timezone.now().timestamp()) + seconds)


@pytest.fixture
def codes(ta, time_machine):
    """The TA has a second step; these are the recovery codes. A minute has passed since."""
    begin_second_step(person=ta)
    codes = confirm_second_step(person=ta, code=code_of(ta))
    time_machine.shift(60)
    return codes


def is_signed_in(client):
    return "_auth_user_id" in client.session


def test_codes_are_those_of_rfc_6238(ta):
    """Appendix B of the RFC: SHA-1, key "12345678901234567890"; last six of its eight digits."""
    totp = TOTP(b32encode(b"12345678901234567890").decode())
    for seconds, code in ((59, "287082"), (1111111109, "081804"), (20000000000, "353130")):
        assert totp.at(seconds) == code


def test_a_ta_sets_it_up_and_signs_in_with_it(client, sign_in, ta, time_machine):
    page = sign_in(ta).get(SET_UP).content.decode()
    step = SecondStep.objects.get(person=ta)
    assert key_of(step) in page.replace(" ", "")
    assert 'src="data:image/svg+xml' in page
    page = client.post(SET_UP, {"code": code_of(ta), "password": PASSWORD}).content.decode()
    assert len(re.findall(r"<li>[\w-]{14}</li>", page)) == 10
    client.logout()
    time_machine.shift(60)
    assert client.post(SIGN_IN, GOOD | {"next": "/me/", "keep": "on"}).url == CONFIRM
    assert not is_signed_in(client)
    assert client.get(CONFIRM).status_code == 200
    assert client.post(CONFIRM, {"code": code_of(ta)}).url == "/me/"
    assert is_signed_in(client)
    assert not client.session.get_expire_at_browser_close()
    assert "on</span> Sign-in asks for a code" in client.get("/me/").content.decode()


@pytest.mark.parametrize(
    "data", [{}, {"code": "000000", "password": PASSWORD}, {"password": "wrong"}]
)
def test_without_code_and_password_it_is_not_turned_on(sign_in, ta, data):
    client = sign_in(ta)
    client.get(SET_UP)
    if data.get("password") == "wrong":
        data = data | {"code": code_of(ta)}
    response = client.post(SET_UP, data)
    assert response.status_code == 200
    assert "Not saved yet" in response.content.decode()
    assert SecondStep.objects.get(person=ta).confirmed_at is None


def test_a_key_that_was_not_confirmed_asks_for_nothing(client, ta):
    begin_second_step(person=ta)
    assert client.post(SIGN_IN, GOOD).url == "/first-page/"


@pytest.mark.parametrize("code", ["000000", "", "x" * 41, "１２３４５６", "\x00"])
def test_a_wrong_code_does_not_sign_in(client, codes, code):
    client.post(SIGN_IN, GOOD)
    assert client.post(CONFIRM, {"code": code}).status_code == 200
    assert not is_signed_in(client)


def test_without_the_password_there_is_no_second_step(client, ta, codes):
    assert client.get(CONFIRM).url == SIGN_IN
    assert client.post(CONFIRM, {"code": code_of(ta)}).url == SIGN_IN
    client.post(SIGN_IN, GOOD | {"password": "wrong"})
    assert client.post(CONFIRM, {"code": code_of(ta)}).url == SIGN_IN
    assert not is_signed_in(client)


def test_pages_stay_closed_between_the_steps(client, codes):
    client.post(SIGN_IN, GOOD)
    assert client.get("/me/").url.startswith(SIGN_IN)


def test_a_code_is_taken_once_and_older_ones_not_at_all(ta, codes):
    code = code_of(ta)
    check_code(person=ta, code=code)
    with pytest.raises(WrongCode):
        check_code(person=ta, code=code)
    with pytest.raises(WrongCode):
        check_code(person=ta, code=code_of(ta, seconds=-30))


@pytest.mark.parametrize(("seconds", "taken"), [(-60, False), (-30, True), (30, True), (60, False)])
def test_a_clock_may_be_half_a_minute_off(ta, codes, time_machine, seconds, taken):
    time_machine.shift(600)
    code = code_of(ta, seconds=seconds)
    if taken:
        check_code(person=ta, code=code)
    else:
        with pytest.raises(WrongCode):
            check_code(person=ta, code=code)


def test_a_recovery_code_signs_in_once(client, codes):
    for code, signed_in in ((codes[0].upper(), True), (codes[0], False), (codes[1], True)):
        client.logout()
        client.post(SIGN_IN, GOOD)
        client.post(CONFIRM, {"code": code})
        assert is_signed_in(client) is signed_in
    assert AuditEntry.objects.filter(action="use-recovery-code").count() == 2


def test_recovery_codes_are_not_stored_as_they_are(codes):
    stored = set(RecoveryCode.objects.values_list("digest", flat=True))
    assert len(stored) == 10
    assert not stored & {code.replace("-", "") for code in codes}


def test_after_five_wrong_codes_not_even_the_right_one_is_taken(client, ta, codes, time_machine):
    client.post(SIGN_IN, GOOD)
    for _ in range(WRONG_CODES):
        client.post(CONFIRM, {"code": "000000"})
    page = client.post(CONFIRM, {"code": code_of(ta)}).content.decode()
    assert "Too many wrong codes" in page
    with pytest.raises(TooManyCodes):
        check_code(person=ta, code=codes[0])
    time_machine.shift(15 * 60 + 1)
    check_code(person=ta, code=code_of(ta))


def test_the_way_between_the_steps_is_open_for_ten_minutes(client, ta, codes, time_machine):
    client.post(SIGN_IN, GOOD)
    time_machine.shift(601)
    assert client.post(CONFIRM, {"code": code_of(ta)}).url == SIGN_IN


def test_a_password_that_changed_meanwhile_closes_the_way(client, ta, codes):
    client.post(SIGN_IN, GOOD)
    ta.set_password("quite another phrase")
    ta.save()
    assert client.post(CONFIRM, {"code": code_of(ta)}).url == SIGN_IN


def test_a_link_to_set_the_password_is_no_way_round(client, ta, codes):
    link = password_link(ta, SITE).removeprefix(SITE.origin)
    new = {"new_password1": "quite another phrase", "new_password2": "quite another phrase"}
    assert client.post(link, new).url == CONFIRM
    assert not is_signed_in(client)
    assert client.post(CONFIRM, {"code": code_of(ta)}).status_code == 302
    assert is_signed_in(client)


def test_turning_it_off_asks_for_the_password(sign_in, ta, codes):
    client = sign_in(ta)
    assert "Turn it off" in client.get(SET_UP).content.decode()
    assert client.post(DROP, {"password": "wrong"}).status_code == 200
    assert SecondStep.objects.filter(person=ta).exists()
    assert client.post(DROP, {"password": PASSWORD}).url == reverse("show-profile")
    assert not SecondStep.objects.filter(person=ta).exists()
    actions = set(AuditEntry.objects.values_list("action", flat=True))
    assert {"set-up-second-step", "drop-second-step"} <= actions


def test_whoever_runs_the_server_can_turn_it_off(ta, codes, capsys):
    call_command("drop_second_step", "Tariq.Assistant")
    assert "by password alone" in capsys.readouterr().out
    assert not SecondStep.objects.exists()
    for name in ("tariq.assistant", "nobody"):
        with pytest.raises(CommandError):
            call_command("drop_second_step", name)


def test_dropping_what_is_not_there_is_no_event(ta):
    drop_second_step(actor=ta, person=ta)
    assert not AuditEntry.objects.filter(action="drop-second-step").exists()


def test_it_is_for_staff(client, sign_in, leads_to_sign_in, student, stockroom, outsider):
    assert leads_to_sign_in(SET_UP)
    assert leads_to_sign_in(DROP, "post")
    client.logout()
    assert sign_in(student).get(SET_UP).status_code == 403
    assert sign_in(student).post(DROP).status_code == 403
    assert "Second step" not in client.get("/me/").content.decode()
    for person in (stockroom, outsider):
        assert sign_in(person).get(SET_UP).status_code == 200
    assert client.get(DROP).status_code == 405
    assert client.put(SET_UP).status_code == 405
    client.logout()
    assert client.put(CONFIRM).status_code == 405
