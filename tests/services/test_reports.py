"""From locked readings to a released report: what is asked, what is kept back until when."""

from datetime import timedelta
from decimal import Decimal
from unittest.mock import Mock
from uuid import uuid4

import pytest
from django.utils import timezone

from tests.conftest import make_member
from tests.entries import enter
from tests.web.review.reports import hand_in_report, put_out
from workups.grading.visibility import Moment
from workups.models import (
    Assignment,
    AuditEntry,
    BenchRecord,
    ExerciseRevision,
    Extension,
    PointAdjustment,
    Reading,
    ReadingKind,
    Review,
    Role,
    Work,
)
from workups.selectors.journey import next_action
from workups.selectors.marks import marks_of, newest_snapshot
from workups.selectors.progress import assignments_to_bring_in
from workups.selectors.reports import has_open_readings, is_released, moment_of
from workups.selectors.works import overdue_records, record_is_locked
from workups.services.bench import join_bench
from workups.services.courses import end_enrolment, enrol_person
from workups.services.entries import Correction, EntryOrigin, ReadingValues
from workups.services.exercises import (
    assign_revision,
    change_terms,
    give_extension,
    publish_revision,
)
from workups.services.moving import move_students
from workups.services.planning import save_plan, submit_plan
from workups.services.reports import (
    ExplanationIsMissing,
    ReadingsAreOpen,
    ReportIsClosed,
    ReportIsNotReleased,
    assess_left_over,
    lock_overdue,
    lock_readings,
    query_mark,
    submit_report,
)
from workups.services.review import accept_report, return_report
from workups.services.works import start_works_of

TARGET = "hexyl_acetate"


def weigh(work, student, *masses):
    for kind, mass in zip(("tare", "gross", "gross"), masses, strict=False):
        enter(work.bench_record, EntryOrigin(by=student, client_token=uuid4()), ReadingValues(
                kind=ReadingKind(kind),
                subject=TARGET,
                value=Decimal(mass),
                decimals=2,
                unit="g",
                readability=Decimal("0.01"),
                on_pan=["flask"],
            ))


@pytest.fixture
def locked_work(bench_work, student):
    weigh(bench_work, student, "45.30", "51.24", "51.24")
    lock_readings(actor=student, record=bench_work.bench_record)
    return bench_work


@pytest.fixture
def released_work(locked_work, student, classmate, assignment):
    """Released, with the classmate's readings still open."""
    submit_report(actor=student, work=locked_work, explanation="Some was left in the funnel.")
    put_out(locked_work)
    return locked_work


def test_locking_assesses_the_work_and_queues_it(locked_work):
    snapshot = locked_work.snapshots.first()
    assert snapshot.readings is not None
    assert snapshot.reason == "readings locked"
    assert Review.objects.get(work=locked_work).state == Review.State.WAITING
    assert moment_of(locked_work) is Moment.LOCKED


def test_a_record_is_not_locked_without_its_reports_in_the_queue(
    bench_work, classmates_work, classmate, student, monkeypatch
):
    """The program stops between the two: the record is open still, or both reports wait."""
    join_bench(actor=classmate, work=classmates_work, record=bench_work.bench_record)
    stop = Mock(side_effect=KeyboardInterrupt)
    monkeypatch.setattr("workups.services.assessments.assess_work", stop)
    with pytest.raises(KeyboardInterrupt):
        lock_readings(actor=student, record=bench_work.bench_record)
    assert Review.objects.count() == 2


def test_what_the_program_stopped_before_assessing_is_assessed_later(
    bench_work, assignment, student, monkeypatch
):
    """The plan was assessed when it was handed in; the readings would never count."""
    weigh(bench_work, student, "45.30", "51.24", "51.24")
    with monkeypatch.context() as stopped:
        stop = Mock(side_effect=KeyboardInterrupt)
        stopped.setattr("workups.services.assessments.assess_work", stop)
        with pytest.raises(KeyboardInterrupt):
            lock_readings(actor=student, record=bench_work.bench_record)
    assert newest_snapshot(bench_work).readings is None
    assert assess_left_over(assignment=assignment) == []  # it may be about to
    monkeypatch.setattr("workups.selectors.progress.ASSESSED_WITHIN", timedelta(0))
    assert list(assignments_to_bring_in()) == [assignment]
    assert assess_left_over(assignment=assignment) == [bench_work]
    assert newest_snapshot(bench_work).readings is not None
    assert not assignments_to_bring_in().exists()
    assert assess_left_over(assignment=assignment) == []


@pytest.mark.parametrize("later", ["section", "extension", "returned", "partner", "none"])
def test_what_is_overdue_is_what_the_date_has_locked(
    bench_work, classmates_work, classmate, student, assignment, later
):
    record, now = bench_work.bench_record, timezone.now()
    join_bench(actor=classmate, work=classmates_work, record=record)
    due = now + timedelta(days=1) if later == "section" else now - timedelta(minutes=1)
    Assignment.objects.update(plan_due=due, report_due=due)
    if later in ("extension", "partner"):
        owner = bench_work if later == "extension" else classmates_work
        Extension.objects.create(
            assignment=assignment,
            enrolment=owner.enrolment,
            report_due=now + timedelta(days=1),
            reason="illness",
            given_by=student,
        )
    if later == "returned":
        Review.objects.create(work=classmates_work, state=Review.State.RETURNED)
    record = BenchRecord.objects.get()
    assert list(overdue_records()) == ([record] if record_is_locked(record) else [])
    assert record_is_locked(record) == (later == "none")


def test_a_partner_without_a_plan_does_not_keep_the_record_from_being_locked(
    bench_work, classmates_work, classmate, student
):
    join_bench(actor=classmate, work=classmates_work, record=bench_work.bench_record)
    lock_readings(actor=student, record=bench_work.bench_record)
    snapshot = newest_snapshot(bench_work)
    assert snapshot.work == bench_work
    assert Review.objects.get(work=classmates_work).state == Review.State.WAITING


def test_the_percent_yield_is_mass_over_theory(locked_work):
    """(51.24 - 45.30) g of 5.11 g / 102.18 g/mol x 144.21 g/mol = 7.21 g is 82.4 %."""
    (found,) = locked_work.snapshots.first().assessment["readings"]
    assert found["percent"] == pytest.approx(5.94 / (5.11 / 102.18 * 144.21) * 100, abs=0.02)


def test_the_date_locks_what_the_student_did_not(bench_work, student, assignment):
    weigh(bench_work, student, "45.30", "51.24")
    assert lock_overdue(assignment=assignment) == []
    assignment.plan_due = assignment.report_due = timezone.now() - timedelta(minutes=1)
    assignment.save()
    (record,) = lock_overdue(assignment=assignment)
    assert record.locked_by is None
    assert Review.objects.filter(work=bench_work).exists()
    assert lock_overdue(assignment=assignment) == []


def test_a_report_waits_for_the_lock(bench_work, student):
    with pytest.raises(ReadingsAreOpen):
        submit_report(actor=student, work=bench_work, explanation="Early.")


def test_above_one_hundred_per_cent_an_explanation_is_required(bench_work, student):
    """7.21 g is the theory; 9.23 g are 128 %."""
    weigh(bench_work, student, "45.30", "54.53", "54.53")
    lock_readings(actor=student, record=bench_work.bench_record)
    with pytest.raises(ExplanationIsMissing):
        submit_report(actor=student, work=bench_work, explanation="  ")
    submit_report(actor=student, work=bench_work, explanation="It still smelled of MTBE.")
    snapshot = bench_work.snapshots.first()
    assert snapshot.readings["target"][TARGET]["explanation"] == "It still smelled of MTBE."


def test_a_report_is_handed_in_once_unless_it_is_returned(locked_work, student):
    submit_report(actor=student, work=locked_work, explanation="")
    with pytest.raises(ReportIsClosed):
        submit_report(actor=student, work=locked_work, explanation="More.")
    Review.objects.filter(work=locked_work).update(state=Review.State.RETURNED)
    lock_readings(actor=student, record=locked_work.bench_record)
    assert Review.objects.get(work=locked_work).state == Review.State.WAITING


def test_results_wait_until_every_section_has_locked(released_work, classmates_work, assignment):
    assert has_open_readings(released_work.revision)
    assert not is_released(released_work)
    assert moment_of(released_work) is Moment.LOCKED
    assignment.results_opened_at = timezone.now()
    assignment.save()
    released_work.refresh_from_db()
    assert is_released(released_work)


def test_results_come_when_the_last_readings_are_locked(
    released_work, classmates_work, assignment
):
    assignment.plan_due = assignment.report_due = timezone.now() - timedelta(minutes=1)
    assignment.save()
    released_work.refresh_from_db()
    assert is_released(released_work)
    assert next_action(released_work).words == "Read the result"


def test_points_given_by_hand_are_added_and_taken_back_ones_are_not(locked_work, ta):
    review = Review.objects.get(work=locked_work)
    computed = marks_of(locked_work).points
    first = PointAdjustment.objects.create(
        review=review, check_name="order", delta=Decimal("-3"), reason="no label", by=ta
    )
    assert marks_of(locked_work).points == pytest.approx(computed - 3)
    PointAdjustment.objects.create(
        review=review,
        check_name="order",
        delta=Decimal("-1"),
        reason="a label, but unreadable",
        by=ta,
        supersedes=first,
    )
    assert marks_of(locked_work).points == pytest.approx(computed - 1)


def test_marks_are_queried_after_release_only(locked_work, student):
    with pytest.raises(ReportIsNotReleased):
        query_mark(actor=student, work=locked_work, check_name="order", text="Why?")
    put_out(locked_work)
    query = query_mark(actor=student, work=locked_work, check_name="order", text="Why?")
    assert query.is_open


def test_a_report_that_goes_back_takes_nobodys_results_away(released_work, classmates_work, ta):
    """Everybody had locked, so the results were out; then a classmate's report is returned."""
    hand_in_report(classmates_work)
    assert is_released(released_work)
    return_report(actor=ta, work=classmates_work, reason="Weigh the flask again, please.")
    assert has_open_readings(released_work.revision)
    assert is_released(Work.objects.get(pk=released_work.pk))
    assert AuditEntry.objects.filter(action="keep-results-out").count() == 1


def test_who_joins_late_takes_nobodys_results_away(
    released_work, classmates_work, course, section, enrolment_of
):
    """Everybody had locked, so the results were out; then one more opens My work."""
    hand_in_report(classmates_work)
    assert is_released(released_work)
    late = make_member(course, "lena.late", Role.STUDENT, section=section)
    start_works_of(enrolment=enrolment_of(late))
    assert has_open_readings(released_work.revision)
    assert is_released(Work.objects.get(pk=released_work.pk))
    assert AuditEntry.objects.get(action="keep-results-out").actor is None


def test_giving_the_exercise_to_another_section_takes_nobodys_results_away(
    released_work, classmates_work, instructor, other_section, terms, course
):
    """The other section's students can enter readings from the moment they have the exercise."""
    make_member(course, "olga.other", Role.STUDENT, section=other_section)
    hand_in_report(classmates_work)
    assert is_released(released_work)
    assign_revision(
        actor=instructor, revision=released_work.revision, section=other_section, terms=terms)
    assert has_open_readings(released_work.revision)
    assert is_released(Work.objects.get(pk=released_work.pk))


def test_a_move_to_later_dates_takes_nobodys_results_away(
    released_work, classmates_work, assignment, section, instructor, terms
):
    """The classmate's time was over with nothing begun."""
    again = assign_revision(
        actor=instructor, revision=revised(released_work), section=section, terms=terms
    )
    past = timezone.now() - timedelta(minutes=1)
    Assignment.objects.exclude(pk=again.pk).update(plan_due=past, report_due=past)
    assert is_released(released_work)
    move_students(
        actor=instructor,
        assignment=Assignment.objects.get(pk=assignment.pk),
        revision=again.revision,
        works=[Work.objects.get(pk=classmates_work.pk)],
        reason="A number was wrong.",
    )
    assert has_open_readings(released_work.revision)
    assert is_released(Work.objects.get(pk=released_work.pk))


def revised(work: Work) -> ExerciseRevision:
    return publish_revision(
        actor=work.revision.published_by,
        course=work.revision.course,
        key=work.revision.key,
        title=work.revision.title,
        document=work.revision.document,
    )


def test_who_joins_when_the_time_is_over_opens_nothing(
    released_work, classmates_work, course, section, enrolment_of
):
    hand_in_report(classmates_work)
    past = timezone.now() - timedelta(minutes=1)
    Assignment.objects.update(plan_due=past, report_due=past)
    late = make_member(course, "lena.late", Role.STUDENT, section=section)
    start_works_of(enrolment=enrolment_of(late))
    assert is_released(Work.objects.get(pk=released_work.pk))
    assert not AuditEntry.objects.filter(action="keep-results-out").exists()


def test_who_comes_back_to_the_course_takes_nobodys_results_away(
    released_work, classmates_work, classmate, course, section, instructor, enrolment_of
):
    """A classmate left with readings open, so the results were out; the roster has them again."""
    end_enrolment(actor=instructor, enrolment=enrolment_of(classmate))
    assert is_released(released_work)
    enrol_person(course=course, person=classmate, role=Role.STUDENT, section=section)
    assert has_open_readings(released_work.revision)
    assert is_released(Work.objects.get(pk=released_work.pk))


def test_later_dates_take_nobodys_results_away(
    released_work, classmates_work, assignment, instructor, terms
):
    past = timezone.now() - timedelta(minutes=1)
    Assignment.objects.update(plan_due=past, report_due=past)
    assert is_released(released_work)
    assignment.refresh_from_db()
    change_terms(actor=instructor, assignment=assignment, terms=terms)
    assert has_open_readings(released_work.revision)
    assert is_released(Work.objects.get(pk=released_work.pk))


def test_an_extension_takes_nobodys_results_away(
    released_work, classmates_work, assignment, instructor
):
    late = timezone.now() - timedelta(hours=1)
    Assignment.objects.update(plan_due=late, report_due=late)
    assert is_released(released_work)
    give_extension(
        actor=instructor,
        assignment=assignment,
        enrolment=classmates_work.enrolment,
        reason="Ill.",
        report_due=timezone.now() + timedelta(days=3),
    )
    assert has_open_readings(released_work.revision)
    assert is_released(Work.objects.get(pk=released_work.pk))


def test_results_that_were_not_out_yet_wait_for_a_returned_report(
    locked_work, classmates_work, ta
):
    hand_in_report(classmates_work)
    return_report(actor=ta, work=classmates_work, reason="Weigh the flask again, please.")
    put_out(locked_work)
    assert not is_released(Work.objects.get(pk=locked_work.pk))


@pytest.fixture
def shared_reports(bench_work, classmates_work, student, classmate):
    """Both partners' reports handed in, from one record."""
    data = bench_work.plan_revisions.first().data
    save_plan(actor=classmate, work=classmates_work, data=data, base_version=0, change="Wrote")
    submit_plan(actor=classmate, work=classmates_work, base_version=1)
    join_bench(actor=classmate, work=classmates_work, record=bench_work.bench_record)
    weigh(bench_work, student, "45.30", "51.24", "51.24")
    lock_readings(actor=student, record=bench_work.bench_record)
    for work in (bench_work, classmates_work):
        submit_report(actor=work.student, work=work, explanation="Fine.")
    return bench_work, classmates_work


def test_a_corrected_reading_counts_for_the_partner_too_whose_report_was_accepted(
    shared_reports, student, ta
):
    own, partners = shared_reports
    accept_report(actor=ta, work=partners)
    return_report(actor=ta, work=own, reason="Look at the tare.")
    record = BenchRecord.objects.get()
    tare = Reading.objects.get(kind="tare")
    enter(
        tare.record,
        EntryOrigin(by=student, client_token=uuid4()),
        Correction(
            tare,
            ReadingValues(
                ReadingKind.TARE,
                TARGET,
                value=Decimal("46.30"),
                decimals=2,
                unit="g",
                readability=Decimal("0.01"),
                on_pan=["flask"],
            ),
            "Misread.",
        ),
    )
    lock_readings(actor=student, record=record)
    assert [newest_snapshot(w).to_core().readings[0].mass_g for w in shared_reports] == [
        pytest.approx(4.94)
    ] * 2
    for work in shared_reports:
        review = Review.objects.get(work=work)
        assert (review.state, review.snapshot) == (Review.State.WAITING, None)
    assert [e.action for e in AuditEntry.objects.filter(action="reopen-review")] == [
        "reopen-review"
    ]


def test_a_report_handed_in_after_it_was_accepted_waits_again(locked_work, student, ta):
    """Nobody has read the explanation yet."""
    accept_report(actor=ta, work=locked_work)
    submit_report(actor=student, work=locked_work, explanation="Some ran down the sink.")
    assert Review.objects.get(work=locked_work).state == Review.State.WAITING


def test_locking_what_is_locked_takes_no_acceptance_back(shared_reports, student, ta):
    own, _ = shared_reports
    accept_report(actor=ta, work=own)
    assert lock_readings(actor=student, record=BenchRecord.objects.get()) == []
    assert Review.objects.get(work=own).state == Review.State.REVIEWED
