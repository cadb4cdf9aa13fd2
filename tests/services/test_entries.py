"""Entries that waited on a device: once each, never over what others said meanwhile."""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.utils import timezone

from tests.entries import enter
from workups.models import BenchStep, Reading, ReadingKind
from workups.selectors.bench import standing_readings, step_entries
from workups.services.bench import RecordIsLocked, close_record
from workups.services.entries import (
    ChangedMeanwhile,
    Correction,
    EntryOrigin,
    ReadingValues,
    StepMark,
    StepTakenBack,
)


@pytest.fixture
def record(bench_work):
    return bench_work.bench_record


def origin(person, **more):
    return EntryOrigin(by=person, client_token=uuid4(), **more)


def cool(mark):
    data = {"verb": "cool", "id": "cool", "flask": "reaction flask", "to_C": 5.0}
    return StepMark("cool", mark, data)


def agent(mass):
    return ReadingValues(
        kind=ReadingKind.AGENT_MASS, step_id="dry", value=Decimal(mass), decimals=1, unit="g"
    )


def tare(mass):
    return ReadingValues(
        kind=ReadingKind.TARE,
        subject="hexyl_acetate",
        value=Decimal(mass),
        decimals=2,
        unit="g",
        readability=Decimal("0.01"),
    )


def test_a_step_sent_twice_is_one_entry(record, student):
    sender = origin(student)
    first = enter(record, sender, cool("done"), seen=())
    assert enter(record, sender, cool("done"), seen=()) == first
    assert BenchStep.objects.count() == 1


def test_what_a_partner_said_of_the_step_is_asked_about(record, student, classmate):
    theirs = enter(record, origin(classmate), cool("skipped"))
    mine = origin(student)
    with pytest.raises(ChangedMeanwhile) as caught:
        enter(record, mine, cool("done"), seen=())
    assert caught.value.rows == [theirs]
    assert step_entries(record)["cool"] == theirs
    decided = enter(record, mine, cool("done"), seen={theirs.client_token})
    assert decided.supersedes == theirs


@pytest.mark.parametrize("after_min", [-90, 1])
def test_what_one_said_oneself_on_another_device_is_asked_about(record, student, after_min):
    """Before this one spoke or since: no clock says what this device had seen."""
    at = timezone.now() + timedelta(minutes=after_min)
    there = enter(record, origin(student), cool("skipped"))
    here = origin(student, device_at=at, device_offset_s=0)
    with pytest.raises(ChangedMeanwhile):
        enter(record, here, cool("done"), seen=())
    assert enter(record, here, cool("done"), seen={there.client_token})


def test_taking_a_mark_back_asks_too_and_needs_a_mark(record, student, classmate):
    assert (
        enter(record, origin(student), StepTakenBack("cool"), seen=())
        is None
    )
    theirs = enter(record, origin(classmate), cool("done"))
    with pytest.raises(ChangedMeanwhile):
        enter(record, origin(student), StepTakenBack("cool"), seen=())
    seen = {theirs.client_token}
    enter(record, origin(student), StepTakenBack("cool"), seen=seen)
    assert step_entries(record) == {}


def test_weighings_of_both_partners_stand_side_by_side(record, student, classmate):
    enter(record, origin(classmate), tare("45.30"))
    enter(record, origin(student), tare("45.31"), seen=())
    assert [r.shown_value for r in standing_readings(record)] == ["45.30 g", "45.31 g"]


def test_of_the_drying_agent_one_mass_holds(record, student, classmate):
    theirs = enter(record, origin(classmate), agent("3.0"))
    sender = origin(student)
    with pytest.raises(ChangedMeanwhile):
        enter(record, sender, agent("3.5"), seen=())
    seen = {theirs.client_token}
    for _ in range(2):
        enter(record, sender, agent("3.5"), seen=seen)
    assert [r.shown_value for r in standing_readings(record)] == ["3.5 g"]
    assert Reading.objects.count() == 2


def test_a_correction_of_what_the_partner_corrected_is_asked_about(record, student, classmate):
    old = enter(record, origin(student), tare("45.31"))
    theirs = enter(old.record, origin(classmate), Correction(old, tare("45.30"), "slip"))
    mine = origin(student)
    sent = Correction(old, tare("45.33"), "misread")
    with pytest.raises(ChangedMeanwhile) as caught:
        enter(record, mine, sent, seen=())
    assert caught.value.rows == [theirs]
    enter(record, mine, sent, seen={theirs.client_token})
    assert [r.shown_value for r in standing_readings(record)] == ["45.33 g"]


def test_striking_out_what_is_struck_out_already_adds_nothing(record, student, classmate):
    old = enter(record, origin(student), tare("45.31"))
    theirs = enter(old.record, origin(classmate), Correction(old, None, "slip"))
    struck = enter(
        old.record,
        origin(student),
        Correction(old, None, "wrong flask"),
        seen={theirs.client_token},
    )
    assert struck == theirs


def test_after_the_lock_only_what_was_sent_before_is_answered(record, student, ta):
    sender = origin(student)
    enter(record, sender, tare("45.30"), seen=())
    close_record(actor=ta, record=record)
    assert enter(record, sender, tare("45.30"), seen=())
    with pytest.raises(RecordIsLocked):
        enter(record, origin(student), tare("45.31"), seen=())


def test_a_wrong_clock_is_set_right_and_never_ahead_of_ours(record, student):
    now = timezone.now()
    slow = origin(student, device_at=now - timedelta(minutes=80), device_offset_s=3600)
    late = enter(record, slow, tare("45.30"), seen=())
    assert abs(late.made_at - (now - timedelta(minutes=20))) < timedelta(seconds=1)
    assert late.came_late
    fast = origin(student, device_at=now + timedelta(hours=1), device_offset_s=0)
    ahead = enter(record, fast, tare("45.31"), seen=())
    assert ahead.made_at == ahead.server_at
