"""What has to hold in the database after every step, whatever was done before."""

from collections import Counter
from decimal import Decimal

from django.utils import timezone

from tests.machine.player import Player, content_of, count_entries, rows_of
from tests.machine.world import STUDENTS, World
from workups.documents import readings_to_data
from workups.grading.assessment import Strength
from workups.models import (
    AssessmentSnapshot,
    Assignment,
    BenchRecord,
    Extension,
    HandIn,
    Person,
    PlanRevision,
    PointAdjustment,
    Review,
    Work,
)
from workups.selectors.bench import readings_to_core
from workups.selectors.marks import marks_of
from workups.services.assessments import assess_plan_of
from workups.services.computing import CannotBeCarriedOut

State = Review.State
MOST_OF_A_PLAN = 50_000  # signs; a plan of the short exercise has two thousand
GIVEN = (State.REVIEWED, State.RELEASED)


def is_shut(record: BenchRecord) -> bool:
    """Whether nothing may be written to a record: by its own and its owners' rows alone."""
    works = list(record.works.select_related("assignment"))
    if not works:
        return True
    if any(Review.objects.filter(work=w, state=State.RETURNED).exists() for w in works):
        return False
    due = [w.assignment.report_due for w in works]
    due += [
        later
        for w in works
        for later in Extension.objects.filter(
            assignment=w.assignment, enrolment=w.enrolment, report_due__isnull=False
        ).values_list("report_due", flat=True)
    ]
    return record.locked_at is not None or timezone.now() > max(due)


def check_all(player: Player) -> None:
    for work in player.world.works():
        check_assessment(work)
        check_mark(work)
        check_record(player, work)
        check_state(player, work)
        check_section(work)
        newest = work.plan_revisions.first()
        assert newest is None or len(str(newest.data)) < MOST_OF_A_PLAN, "too much was stored"
    check_entries(player)


def handed_in(work: Work) -> PlanRevision | None:
    return (
        PlanRevision.objects.filter(work=work, submitted_at__isnull=False)
        .order_by("version")
        .last()
    )


def check_assessment(work: Work) -> None:
    """An assessed work's newest assessment is about the exercise, plan and record as they are."""
    if work.hand_in != HandIn.ASSESSED:
        return
    newest = work.snapshots.defer("assessment").first()
    assert newest is not None, work
    assert_about_now(newest, work)


def assert_about_now(snapshot: AssessmentSnapshot, work: Work) -> None:
    assert snapshot.revision_id == work.revision_id, "assessed by another revision"
    assert snapshot.own_exercise_id == work.own_exercise_id, "assessed by another form"
    assert snapshot.plan_revision == handed_in(work), "assessed on another plan"
    record = work.bench_record
    if record is None or not Review.objects.filter(work=work).exists():
        return
    if is_shut(record):
        assert snapshot.bench_record_id == record.pk, "assessed without its record"
        targets = [target.substance for target in work.to_core().setup.targets]
        now = readings_to_data(readings_to_core(record, targets, work.explanation))
        assert snapshot.readings == now, "assessed on other readings"


def check_mark(work: Work) -> None:
    """A mark that was given rests on an assessment that says what the newest says."""
    review = Review.objects.filter(work=work).first()
    if review is None or review.state not in GIVEN:
        return
    assert review.snapshot is not None
    record = work.bench_record
    if review.state == State.RELEASED and record is not None:
        assert is_shut(record), "a released result with open readings"
    if work.hand_in == HandIn.ASSESSED:
        assert_about_now(review.snapshot, work)
    marks = marks_of(work)
    assert marks is not None
    deltas: Counter[str] = Counter()
    for row in PointAdjustment.objects.filter(review=review, superseded_by__isnull=True):
        deltas[row.check_name] += row.delta  # type: ignore[assignment]
    total = Decimal(0)
    for check in review.snapshot.assessment["checks"]:
        points = Decimal(str(check["points"])) + Decimal(deltas[check["name"]])
        most = max(Decimal(str(check["out_of"])), Decimal(1), Decimal(str(check["points"])))
        total += min(max(points, Decimal(0)), most)
    assert abs(float(total) - marks.points) < 1e-6, "the total is not the sum"


def check_record(player: Player, work: Work) -> None:
    """Record, plan, exercise and form agree among partners; who shares was let in."""
    record = work.bench_record
    if record is None:
        return
    works = list(record.works.all())
    assert len({(w.revision_id, w.own_exercise_id) for w in works}) == 1, "partners' exercises"
    assert len(works) <= work.assignment.group_size, "too many owners"
    assert record.plan_revision.submitted_at is not None, "a plan that nobody handed in"
    starter = record.plan_revision.work_id == work.pk
    assert starter or (work.pk, record.pk) in player.let_in, "shares a record unasked"


def check_state(player: Player, work: Work) -> None:
    if work.hand_in == HandIn.FAILED and not player.has_stumbled:
        raise AssertionError(("the core stumbled by itself", work.hand_in_problem))
    if work.hand_in == HandIn.NOTHING:
        assert handed_in(work) is None


def check_section(work: Work) -> None:
    """Work that is not at the bench is where its student is, if that section has the exercise."""
    section = work.enrolment.section
    if section is None or work.bench_record is not None:
        return
    if Assignment.objects.filter(section=section, revision__key=work.revision.key).exists():
        assert work.assignment.section_id == section.pk, "left behind in the old section"


def holds_now(work: Work) -> bool:
    """Whether the plan handed in is held for safety under the exercise as the student has it."""
    plan = handed_in(work)
    assert plan is not None
    try:
        assessment = assess_plan_of(work, plan.to_core())
    except CannotBeCarriedOut:
        return True
    found = (f for check in assessment.checks for f in check.findings)
    return any(f.strength is Strength.SAFETY_HOLD for f in found)


def check_begun(work: Work, had: BenchRecord | None) -> None:
    """A record just begun: its plan is assessed, and held by nothing that no TA has cleared."""
    record = work.bench_record
    if record is None or record == had:
        return
    assert work.hand_in in (HandIn.ASSESSED, HandIn.FAILED)
    if holds_now(work):
        cleared = work.hold_clearances.filter(
            plan_revision=record.plan_revision, own_exercise=work.own_exercise_id
        )
        assert cleared.exists(), "begun although the plan is held"


def check_entries(player: Player) -> None:
    """Whatever was acknowledged is there once, as it was, under the name of who sent it; and
    nothing else is."""
    for token, (_, contents) in player.acknowledged.items():
        found = [content_of(row) for row in rows_of(token)]
        assert found == contents, ("no longer as it was acknowledged", token)
    known = sum(len(rows_of(token)) for token in set(player.tokens))
    assert count_entries() == known, "entries nobody sent"


def check_people(world: World) -> None:
    """No account is in other hands: e-mails and passwords are as their owners have them, and no
    roster renames who teaches or is in another course too."""
    for name, before in world.people.items():
        now = Person.objects.get(pk=before.pk)
        assert (now.email, now.password) == (before.email, before.password), f"{name}'s account"
        if name not in STUDENTS:
            assert now.display_name == before.display_name, f"{name} is renamed"
