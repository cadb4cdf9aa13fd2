"""Bench code and PIN: hashed, slow to guess, one answer for all that does not fit."""

from datetime import timedelta

import pytest
from django.contrib.auth.hashers import MD5PasswordHasher
from django.utils import timezone

from workups.models import AuditEntry, StationFailure
from workups.services.station import (
    TRIES,
    TRIES_ANYWHERE,
    TooManyTries,
    WrongCodeOrPin,
    enter_station,
    pin_seal,
    seal_holds,
    set_station_pin,
)

HERE = "192.0.2.7"


@pytest.fixture
def with_pin(bench_work, student):
    set_station_pin(actor=student, work=bench_work, pin="4711")
    return bench_work


def enter(work, pin="4711", address=HERE):
    return enter_station(code=work.bench_code, pin=pin, address=address)


def test_code_and_pin_open_the_record(with_pin):
    assert enter(with_pin) == with_pin
    assert not StationFailure.objects.exists()


def test_the_pin_is_kept_hashed_and_its_setting_is_on_record(with_pin):
    assert "4711" not in with_pin.station_pin
    assert AuditEntry.objects.filter(action="set-station-pin", object_id=with_pin.public_id)


@pytest.mark.parametrize("pin", ["4712", "", "47111"])
def test_another_pin_does_not(with_pin, pin):
    with pytest.raises(WrongCodeOrPin):
        enter(with_pin, pin)


def test_a_code_nobody_has_and_a_work_without_pin_get_the_same_answer(bench_work):
    with pytest.raises(WrongCodeOrPin):
        enter_station(code="ZZZZZ", pin="4711", address=HERE)
    with pytest.raises(WrongCodeOrPin):
        enter(bench_work, "")


def test_somebody_who_left_the_course_is_not_let_in(with_pin):
    with_pin.enrolment.left_at = timezone.now()
    with_pin.enrolment.save()
    with pytest.raises(WrongCodeOrPin):
        enter(with_pin)


def fail(work, times, address=HERE):
    for _ in range(times):
        with pytest.raises(WrongCodeOrPin):
            enter(work, "0000", address)


def test_after_five_wrong_tries_the_right_one_waits_too(with_pin, classmates_work, classmate):
    fail(with_pin, TRIES)
    with pytest.raises(TooManyTries):
        enter(with_pin)
    set_station_pin(actor=classmate, work=classmates_work, pin="1234")
    assert enter(classmates_work, "1234") == classmates_work
    assert enter(with_pin, address="192.0.2.8") == with_pin


def test_from_many_addresses_the_code_is_locked_too(with_pin):
    for number in range(TRIES_ANYWHERE):
        fail(with_pin, 1, f"192.0.2.{number}")
    with pytest.raises(TooManyTries):
        enter(with_pin, address="198.51.100.1")


def test_the_lock_ends_by_itself_and_old_tries_are_forgotten(with_pin):
    fail(with_pin, TRIES)
    StationFailure.objects.update(at=timezone.now() - timedelta(minutes=16))
    assert enter(with_pin) == with_pin
    StationFailure.objects.update(at=timezone.now() - timedelta(days=2))
    enter(with_pin)
    assert not StationFailure.objects.exists()


def test_a_new_pin_ends_what_the_old_one_opened(with_pin, student):
    seal = pin_seal(with_pin)
    assert seal_holds(with_pin, seal)
    set_station_pin(actor=student, work=with_pin, pin="2580")
    assert not seal_holds(with_pin, seal)
    set_station_pin(actor=student, work=with_pin, pin="")
    assert not seal_holds(with_pin, pin_seal(with_pin))


@pytest.mark.parametrize("state", ["wrong PIN", "no PIN", "no such code", "left"])
def test_every_wrong_try_takes_one_hash(bench_work, student, state, monkeypatch):
    """What takes two tells by its time which codes exist."""
    if state != "no PIN":
        set_station_pin(actor=student, work=bench_work, pin="4711")
    if state == "left":
        bench_work.enrolment.left_at = timezone.now()
        bench_work.enrolment.save()
    hashed = []
    encode = MD5PasswordHasher.encode

    def counted(hasher, *given, **named):
        hashed.append(given)
        return encode(hasher, *given, **named)

    monkeypatch.setattr(MD5PasswordHasher, "encode", counted)
    code = "ZZZZZ" if state == "no such code" else bench_work.bench_code
    with pytest.raises(WrongCodeOrPin):
        enter_station(code=code, pin="1234", address=HERE)
    assert len(hashed) == 1


def test_codes_are_not_tried_through_from_one_address(with_pin, monkeypatch):
    """Each takes a hash; past the limit none is made, whatever the code."""
    monkeypatch.setattr("workups.services.station.TRIES_OF_AN_ADDRESS", 7)
    for number in range(7):
        with pytest.raises(WrongCodeOrPin):
            enter_station(code=f"ZZZZ{number}", pin="4711", address=HERE)
    with pytest.raises(TooManyTries):
        enter(with_pin)
    assert enter(with_pin, address="192.0.2.8") == with_pin
