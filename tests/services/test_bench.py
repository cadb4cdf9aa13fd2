"""The bench record: added to, never changed; a token makes sending twice harmless."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from unittest.mock import Mock
from uuid import uuid4

import pytest
from django.utils import timezone

from tests.entries import enter
from workups.documents import step_to_data
from workups.models import (
    BenchRecord,
    BenchStep,
    Extension,
    HoldClearance,
    Reading,
    ReadingKind,
    Review,
    Work,
)
from workups.selectors.bench import readings_to_core, standing_readings, step_entries, weighings_of
from workups.selectors.holds import open_holds
from workups.selectors.plans import current_plan, submitted_plan
from workups.selectors.works import readings_are_locked, record_is_locked
from workups.services.bench import (
    HoldIsOpen,
    NoSubmittedPlan,
    RecordIsFull,
    RecordIsLocked,
    close_record,
    join_bench,
    leave_bench,
    start_bench,
)
from workups.services.entries import (
    Correction,
    EntryOrigin,
    ReadingValues,
    StepMark,
    StepTakenBack,
    TokenBelongsElsewhere,
    TypedSheet,
    keep_typing,
)
from workups.services.planning import save_plan, submit_plan

TARGET = "hexyl_acetate"


@pytest.fixture
def record(bench_work):
    return bench_work.bench_record


@pytest.fixture
def origin(student):
    """A new origin, each with a token of its own."""
    return lambda: EntryOrigin(by=student, client_token=uuid4())


def grams(kind, value, **more):
    number = Decimal(value)
    return ReadingValues(
        kind=kind,
        subject=TARGET,
        value=number,
        decimals=2,
        unit="g",
        readability=Decimal("0.01"),
        on_pan=["flask"],
        **more,
    )


def test_a_record_follows_the_plan_handed_in(record, bench_work):
    assert record.plan_revision == submitted_plan(bench_work)


def test_there_is_no_record_without_a_plan_handed_in(planned_work, student):
    with pytest.raises(NoSubmittedPlan):
        start_bench(actor=student, work=planned_work)


def test_starting_twice_gives_the_same_record(bench_work, student):
    assert start_bench(actor=student, work=bench_work) == bench_work.bench_record


@pytest.fixture
def hasty_work(planned_work, student, few_draws):
    """Bicarbonate on acid without swirling open or venting holds the plan, version 2."""
    steps = [
        {**s, "swirl_open": False, "vent": False} if s["id"] == "wash-bicarbonate" else s
        for s in current_plan(planned_work).data["steps"]
    ]
    assert steps != current_plan(planned_work).data["steps"]
    save_plan(
        actor=student, work=planned_work, data={"steps": steps}, base_version=1, change="Hasty"
    )
    return planned_work


def test_a_plan_whose_assessment_was_cut_short_is_held_all_the_same(
    hasty_work, student, monkeypatch
):
    with monkeypatch.context() as stopped:
        stopped.setattr("workups.services.assessments.assess_work", Mock(side_effect=SystemExit))
        with pytest.raises(SystemExit):
            submit_plan(actor=student, work=hasty_work, base_version=2)
    assert not open_holds(hasty_work)
    with pytest.raises(HoldIsOpen):
        start_bench(actor=student, work=hasty_work)
    assert open_holds(hasty_work)


def test_a_plan_with_a_safety_hold_waits_for_a_word(hasty_work, student, ta):
    submit_plan(actor=student, work=hasty_work, base_version=2)
    assert open_holds(hasty_work)
    with pytest.raises(HoldIsOpen):
        start_bench(actor=student, work=hasty_work)
    HoldClearance.objects.create(
        work=hasty_work, plan_revision=submitted_plan(hasty_work), reason="shown how", by=ta
    )
    assert start_bench(actor=student, work=hasty_work).plan_revision.version == 3


def test_the_same_token_stores_one_reading(record, origin):
    one = origin()
    first = enter(record, one, grams(ReadingKind.TARE, "45.30"))
    again = enter(record, one, grams(ReadingKind.TARE, "45.30"))
    assert first == again
    assert Reading.objects.count() == 1


def test_a_reading_keeps_the_decimals_that_were_read(record, origin):
    reading = enter(record, origin(), grams(ReadingKind.TARE, "45.30"))
    reading.refresh_from_db()
    assert reading.shown_value == "45.30 g"


def test_a_token_of_another_record_is_refused(
    record, origin, classmates_work, classmate, few_draws
):
    save_plan(
        actor=classmate,
        work=classmates_work,
        data=record.plan_revision.data,
        base_version=0,
        change="Wrote",
    )
    submit_plan(actor=classmate, work=classmates_work, base_version=1)
    other = start_bench(actor=classmate, work=classmates_work)
    one = origin()
    enter(record, one, grams(ReadingKind.TARE, "45.30"))
    with pytest.raises(TokenBelongsElsewhere):
        enter(other, one, grams(ReadingKind.TARE, "45.30"))


def test_a_correction_stands_and_the_old_reading_stays(record, origin):
    old = enter(record, origin(), grams(ReadingKind.GROSS, "51.42"))
    new = enter(
        old.record, origin(), Correction(old, grams(ReadingKind.GROSS, "51.24"), "digits swapped")
    )
    assert standing_readings(record) == [new]
    assert Reading.objects.get(pk=old.pk).value == Decimal("51.42")
    assert new.reason == "digits swapped"


def test_a_correction_of_what_was_corrected_takes_the_newest_ones_place(record, origin):
    old = enter(record, origin(), grams(ReadingKind.GROSS, "51.42"))
    enter(record, origin(), Correction(old, grams(ReadingKind.GROSS, "51.24"), "misread"))
    newest = enter(record, origin(), Correction(old, grams(ReadingKind.GROSS, "51.25"), "misread"))
    assert standing_readings(record) == [newest]
    assert Reading.objects.count() == 3


def test_a_corrected_tare_keeps_its_place_before_the_gross(record, origin):
    tare = enter(record, origin(), grams(ReadingKind.TARE, "45.30"))
    enter(record, origin(), grams(ReadingKind.GROSS, "51.24"))
    enter(tare.record, origin(), Correction(tare, grams(ReadingKind.TARE, "45.31"), "misread"))
    kinds = [r.kind for r in standing_readings(record)]
    assert kinds == [ReadingKind.TARE, ReadingKind.GROSS]


def test_a_struck_reading_no_longer_counts(record, origin):
    reading = enter(record, origin(), grams(ReadingKind.GROSS, "51.24"))
    enter(reading.record, origin(), Correction(reading, None, "another flask"))
    assert standing_readings(record) == []
    assert Reading.objects.count() == 2


@pytest.mark.parametrize(
    ("second", "constant", "mass"),
    [
        ("51.24", True, "5.94"),
        ("51.26", True, "5.95"),
        ("51.27", False, "5.97"),
        ("51.20", False, "5.90"),
    ],
)
def test_mass_is_constant_within_twice_the_readability(record, origin, second, constant, mass):
    """0.02 g on a balance that reads 0.01 g: chemistry.md, stripping and weighing. The mass is the
    mean of the readings that agree, else the last."""
    for kind, value in (("tare", "45.30"), ("gross", "51.24"), ("gross", second)):
        enter(record, origin(), grams(ReadingKind(kind), value))
    pair = weighings_of(standing_readings(record), TARGET)
    assert pair.is_constant is constant
    assert pair.by_difference_g == Decimal(mass)


def test_product_in_two_numbered_flasks_is_their_sum(record, origin):
    weighed = [("tare", "50.00", "7"), ("tare", "40.00", "8"), ("gross", "51.95", "7"),
               ("gross", "41.00", "8"), ("gross", "51.95", "7"), ("gross", "40.95", "8")]
    changes = []
    for kind, value, number in weighed:
        values = replace(grams(ReadingKind(kind), value), flask_number=number)
        enter(record, origin(), values)
        changes.append(weighings_of(standing_readings(record), TARGET).last_change_g)
    pair = weighings_of(standing_readings(record), TARGET)
    assert pair.by_difference_g == Decimal("2.90")
    assert pair.is_constant is False
    assert changes[3:] == [None, None, Decimal("-0.05")]


def test_entries_of_one_form_are_all_stored_and_stored_once(record, origin):
    one = origin()
    entries = [
        ReadingValues(kind=ReadingKind.AGENT_LOOK, step_id="dry", text="free-flowing"),
        ReadingValues(kind=ReadingKind.LIQUID_LOOK, step_id="dry", text="clear"),
    ]
    for _ in range(2):
        enter(record, one, *entries)
    assert Reading.objects.count() == 2


def test_the_newest_word_on_a_step_holds_and_can_be_taken_back(record, origin):
    step = record.plan_revision.data["steps"][0]
    done = StepMark(step["id"], "done", step)
    enter(record, origin(), done)
    enter(record, origin(), replace(done, mark="skipped"))
    assert step_entries(record)[step["id"]].mark == "skipped"
    enter(record, origin(), StepTakenBack(step["id"]))
    assert step["id"] not in step_entries(record)
    assert BenchStep.objects.count() == 3


def test_a_locked_record_takes_nothing_more(record, origin, student):
    reading = enter(record, origin(), grams(ReadingKind.TARE, "45.30"))
    assert close_record(actor=student, record=record)
    assert not close_record(actor=student, record=record)
    with pytest.raises(RecordIsLocked):
        enter(record, origin(), grams(ReadingKind.GROSS, "51.24"))
    with pytest.raises(RecordIsLocked):
        enter(
            reading.record, origin(), Correction(reading, grams(ReadingKind.TARE, "45.31"), "late")
        )


def test_a_record_that_was_fetched_before_it_was_locked_takes_nothing_more(
    record, origin, student
):
    fetched_before = BenchRecord.objects.get(pk=record.pk)
    close_record(actor=student, record=record)
    with pytest.raises(RecordIsLocked):
        enter(fetched_before, origin(), grams(ReadingKind.TARE, "45.30"))
    with pytest.raises(RecordIsLocked):
        keep_typing(
            actor=student,
            record=BenchRecord(pk=record.pk, plan_revision=record.plan_revision),
            token=uuid4(),
            turn=1,
            sheet=TypedSheet({"place": "hood 3"}, ()),
        )


def test_who_began_a_record_meanwhile_neither_joins_another_nor_leaves_it(
    record, classmates_work, classmate, few_draws
):
    data = {"steps": [step_to_data(s) for s in classmates_work.to_core().model_plan.steps]}
    save_plan(actor=classmate, work=classmates_work, data=data, base_version=0, change="Wrote")
    submit_plan(actor=classmate, work=classmates_work, base_version=1)
    fetched_before = Work.objects.get(pk=classmates_work.pk)
    own = start_bench(actor=classmate, work=classmates_work)
    with pytest.raises(RecordIsFull):
        join_bench(actor=classmate, work=fetched_before, record=record)
    fetched_before.bench_record = record
    leave_bench(actor=classmate, work=fetched_before, reason="absent")
    assert Work.objects.get(pk=classmates_work.pk).bench_record == own


def test_a_report_returned_opens_the_record_again(record, bench_work, student):
    close_record(actor=student, record=record)
    assert record_is_locked(record)
    Review.objects.create(work=bench_work, state=Review.State.RETURNED)
    assert not record_is_locked(record)


def test_the_date_locks_a_record_and_an_extension_keeps_it_open(
    record, bench_work, assignment, instructor
):
    assignment.report_due = timezone.now() - timedelta(minutes=1)
    assignment.plan_due = assignment.report_due
    assignment.save()
    assert readings_are_locked(bench_work)
    Extension.objects.create(
        assignment=assignment,
        enrolment=bench_work.enrolment,
        report_due=timezone.now() + timedelta(days=1),
        reason="illness",
        given_by=instructor,
    )
    assert not readings_are_locked(bench_work)


def test_partners_share_one_record_up_to_the_group_size(
    record, classmates_work, classmate, assignment
):
    join_bench(actor=classmate, work=classmates_work, record=record)
    assert record.works.count() == 2
    assignment.group_size = 1
    assignment.save()
    classmates_work.bench_record = None
    classmates_work.save()
    classmates_work.refresh_from_db()
    with pytest.raises(RecordIsFull):
        join_bench(actor=classmate, work=classmates_work, record=record)


def test_the_record_becomes_readings_of_the_core(record, origin):
    steps = {s["id"]: s for s in record.plan_revision.data["steps"]}
    first = next(iter(steps))
    enter(record, origin(), StepMark(first, "skipped", steps[first]))
    extra = {**steps[first], "id": "s99"}
    enter(record, origin(), StepMark("s99", "added", extra, after=first))
    enter(record, origin(), grams(ReadingKind.TARE, "45.30"))
    enter(record, origin(), ReadingValues(
            kind=ReadingKind.AGENT_MASS, step_id="dry", value=Decimal("3.1"), decimals=1, unit="g"
        ))
    core = readings_to_core(record, [TARGET])
    assert [(d.step.id, d.mark) for d in core.steps[:3]] == [
        (first, "skipped"),
        ("s99", "added"),
        (list(steps)[1], "done"),
    ]
    assert step_to_data(core.steps[1].step) == extra
    (weighing,) = core.targets[TARGET].weighings
    assert (weighing.mass_g, weighing.readability_g) == (45.30, 0.01)
    (drying,) = core.drying
    assert (drying.step, drying.agent_mass_g) == ("dry", 3.1)


def test_with_no_step_marked_nothing_is_known_of_the_steps(record):
    assert readings_to_core(record, [TARGET]).steps == ()
