"""Moving students between revisions: looked at first, done with a reason, taken back in full."""

import pytest

from workups.models import AssessmentSnapshot, AuditEntry, RevisionMove
from workups.selectors.marks import marked_snapshot, marks_of
from workups.services.bench import join_bench, leave_bench
from workups.services.exercises import publish_revision, set_exercise_archived
from workups.services.moving import (
    MovedOn,
    RecordIsShared,
    move_students,
    take_back_move,
    what_would_change,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def newer(revision, instructor):
    """The same exercise with 30 instead of 25 points for the order of steps."""
    assert "\norder = 25\n" in revision.document
    return publish_revision(
        actor=instructor,
        course=revision.course,
        key=revision.key,
        title=revision.title,
        document=revision.document.replace("\norder = 25\n", "\norder = 30\n"),
    )


def moved(instructor, work, newer):
    return move_students(
        actor=instructor,
        assignment=work.assignment,
        revision=newer,
        works=[work],
        reason="a slip in the rubric",
    )[0]


def test_looking_changes_nothing_and_says_what_would_change(submitted_work, newer):
    snapshots = AssessmentSnapshot.objects.count()
    change = what_would_change(submitted_work, newer)
    assert [(c.title, c.before, c.after) for c in change.changed] == [
        ("Order of steps", 25.0, 30.0)
    ]
    assert change.after - change.before == pytest.approx(5.0)
    submitted_work.refresh_from_db()
    assert submitted_work.revision != newer
    assert AssessmentSnapshot.objects.count() == snapshots


def test_without_a_plan_there_is_nothing_to_say_yet(planned_work, newer):
    assert "no plan handed in" in what_would_change(planned_work, newer).problem


def test_a_move_assesses_anew_and_keeps_the_old(submitted_work, newer, instructor):
    old = marked_snapshot(submitted_work)
    move = moved(instructor, submitted_work, newer)
    submitted_work.refresh_from_db()
    assert submitted_work.revision == newer
    assert submitted_work.assignment.section == move.before.section
    assert submitted_work.assignment.plan_due == move.before.plan_due
    marks = {m.check.name: m.points for m in marks_of(submitted_work).checks}
    assert marks["order"] == 30.0
    assert AssessmentSnapshot.objects.filter(pk=old.pk).exists()
    entry = AuditEntry.objects.get(action="move-students")
    assert entry.details["reason"] == "a slip in the rubric"
    assert entry.details["works"] == [str(submitted_work.public_id)]


def test_a_move_is_taken_back_in_full(submitted_work, newer, instructor):
    before = (submitted_work.assignment, submitted_work.revision, marks_of(submitted_work).points)
    move = moved(instructor, submitted_work, newer)
    take_back_move(actor=instructor, move=move)
    submitted_work.refresh_from_db()
    after = (submitted_work.assignment, submitted_work.revision, marks_of(submitted_work).points)
    assert after == before
    move.refresh_from_db()
    assert move.taken_back_by == instructor
    assert AuditEntry.objects.filter(action="take-back-move").count() == 1


def test_the_later_move_is_taken_back_first(submitted_work, newer, revision, instructor):
    first = moved(instructor, submitted_work, newer)
    submitted_work.refresh_from_db()
    moved(instructor, submitted_work, revision)
    with pytest.raises(MovedOn):
        take_back_move(actor=instructor, move=first)


def test_partners_move_together_and_back_together(
    bench_work, classmates_work, newer, instructor
):
    join_bench(
        actor=classmates_work.student, work=classmates_work, record=bench_work.bench_record
    )
    with pytest.raises(RecordIsShared):
        moved(instructor, bench_work, newer)
    assert not RevisionMove.objects.exists()
    moves = move_students(
        actor=instructor,
        assignment=bench_work.assignment,
        revision=newer,
        works=[bench_work, classmates_work],
        reason="rubric",
    )
    back = take_back_move(actor=instructor, move=moves[0])
    assert {work.pk for work in back} == {bench_work.pk, classmates_work.pk}
    bench_work.refresh_from_db()
    leave_bench(actor=instructor, work=classmates_work, reason="parted")
    assert bench_work.revision != newer


def test_an_exercise_is_put_away_in_all_its_revisions(revision, newer, instructor):
    assert set_exercise_archived(actor=instructor, revision=newer, archived=True) == 2
    assert set_exercise_archived(actor=instructor, revision=newer, archived=True) == 0
    revision.refresh_from_db()
    assert revision.archived_at is not None
    assert set_exercise_archived(actor=instructor, revision=revision, archived=False) == 2
    assert list(AuditEntry.objects.filter(action__endswith="-exercise").values_list(
        "action", flat=True).order_by("pk"))[-2:] == ["archive-exercise", "reopen-exercise"]
