"""How far a section is with an exercise, counted for many assignments at once."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Q, QuerySet
from django.utils import timezone

from workups.models import AssessmentSnapshot, Assignment, HandIn, PlanRevision, Review, Work
from workups.models.planning import UNDER_WAY
from workups.selectors import verdicts
from workups.selectors.holds import standing_clearances
from workups.selectors.works import overdue_records

ASSESSED_WITHIN = timedelta(minutes=5)
DONE_STATES = frozenset({Review.State.REVIEWED, Review.State.RELEASED})


@dataclass(frozen=True)
class Progress:
    """Numbers of students: with a plan handed in, held for safety, admitted, and so on."""

    students: int = 0
    plans_in: int = 0
    held: int = 0
    admitted: int = 0
    records_in: int = 0
    to_review: int = 0
    reviewed: int = 0
    released: int = 0


def progress_of(assignments: Iterable[Assignment]) -> dict[int, Progress]:
    """Progress by the key of the assignment; students who left are not counted."""
    ids = [assignment.pk for assignment in assignments]
    works = list(current_works(ids).select_related("review", "bench_record"))
    plans = newest_submitted(works)
    held = held_plans(works, plans)
    by_assignment: dict[int, list[Work]] = defaultdict(list)
    for work in works:
        by_assignment[work.assignment_id].append(work)
    return {pk: _count(by_assignment[pk], plans, held) for pk in ids}


def assignments_to_bring_in(*, failed_too: bool = False) -> QuerySet[Assignment]:
    """Assignments with records whose date has passed, extensions counted in, and that nobody has
    locked, or with reports that were not assessed as they came in."""
    return (
        Assignment.objects.filter(
            Q(works__bench_record__in=overdue_records())
            | Q(works__in=works_to_assess(failed_too=failed_too))
        )
        .select_related("revision__course", "section")
        .distinct()
    )


def works_to_assess(*, failed_too: bool = False) -> QuerySet[Work]:
    """Works whose assessment was cut short, whatever became of them since; with `failed_too` also
    those on which it gave up.

    The program stopped between what was stored and its assessment, which takes seconds.
    """
    before = timezone.now() - ASSESSED_WITHIN
    cut_short = Work.objects.filter(hand_in__in=UNDER_WAY, hand_in_at__lt=before)
    return cut_short | Work.objects.filter(hand_in=HandIn.FAILED) if failed_too else cut_short


def current_works(assignment_ids: Iterable[int]) -> QuerySet[Work]:
    return Work.objects.filter(
        assignment__in=list(assignment_ids), enrolment__left_at__isnull=True
    ).select_related("revision", "own_exercise")


def _count(works: list[Work], plans: dict[int, int], held: set[int]) -> Progress:
    states = [state_of(work) for work in works]
    return Progress(
        students=len(works),
        plans_in=sum(work.pk in plans for work in works),
        held=sum(plans.get(work.pk) in held for work in works),
        admitted=sum(work.admitted_at is not None for work in works),
        records_in=sum(
            work.bench_record is not None and work.bench_record.locked_at is not None
            for work in works
        ),
        to_review=sum(s in (Review.State.WAITING, Review.State.IN_REVIEW) for s in states),
        reviewed=sum(s in DONE_STATES for s in states),
        released=sum(s == Review.State.RELEASED for s in states),
    )


def state_of(work: Work) -> str:
    """The state of the work's review; empty before there is one."""
    review: Review | None = getattr(work, "review", None)
    return review.state if review is not None else ""


def newest_submitted(works: Iterable[Work]) -> dict[int, int]:
    """The key of the plan last handed in, by the key of the work."""
    rows = (
        PlanRevision.objects.filter(
            work__in=[work.pk for work in works], submitted_at__isnull=False
        )
        .order_by("version")
        .values_list("work_id", "pk")
    )
    return dict(rows)


def held_plans(works: Iterable[Work], plans: dict[int, int]) -> set[int]:
    """Keys of the plans, given by work, that wait for a TA's word: `waits_for_a_word` for many."""
    ids = list(plans.values())
    cleared = set(
        standing_clearances()
        .filter(plan_revision__in=ids)
        .values_list("plan_revision_id", flat=True)
    )
    unknown = {plans[w.pk] for w in works if w.pk in plans and w.cannot_be_carried_out}
    found = verdicts.held_plans(AssessmentSnapshot.objects.filter(plan_revision__in=ids))
    return (unknown | found) - cleared
