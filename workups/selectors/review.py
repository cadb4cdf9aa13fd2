"""The review queue: which reports wait, and which of them need eyes first."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, QuerySet

from workups.grading.assessment import Hypothesis, Strength, Verdict
from workups.grading.points.littleweighed import LITTLE_WEIGHED
from workups.grading.slips import NOTHING_WRONG
from workups.models import (
    AssessmentSnapshot,
    Assignment,
    Enrolment,
    ExerciseRevision,
    MarkQuery,
    Reading,
    ReadingKind,
    Review,
    Section,
    Work,
)
from workups.selectors.anonymity import name_for_marking
from workups.selectors.courses import sections_seen_by
from workups.selectors.progress import assignments_to_bring_in
from workups.selectors.reports import has_open_readings
from workups.selectors.verdicts import verdicts
from workups.words.numbers import fixed, unit_after

UNCERTAIN_BELOW = 0.6
TO_DO = frozenset({Review.State.WAITING, Review.State.IN_REVIEW})


@dataclass(frozen=True)
class Reason:
    """Why a report needs eyes; the lowest rank comes first."""

    rank: int
    key: str
    words: str


HOLD = Reason(0, "hold", "safety hold in the plan")
LITTLE = Reason(1, "little", "next to nothing weighed")
ABOVE = Reason(1, "above", "above theoretical")
ASKED = Reason(2, "asked", "the student asks")
UNCERTAIN = Reason(3, "uncertain", "cause uncertain")
SIGN = Reason(4, "sign", "a sign of purity does not agree")
QUESTION = Reason(5, "question", "a reading to check")
OUTSIDE = Reason(6, "outside", "outside the band")
NO_READING = Reason(7, "no-reading", "no mass on record")
UNASSESSED = Reason(0, "unassessed", "being assessed")
FAILED = Reason(0, "failed", "could not be assessed")
REASONS = (
    UNASSESSED,
    FAILED,
    HOLD,
    LITTLE,
    ABOVE,
    ASKED,
    UNCERTAIN,
    SIGN,
    QUESTION,
    OUTSIDE,
    NO_READING,
)
STRAIGHT = Reason(9, "straight", "straightforward")


@dataclass(frozen=True)
class QueueFilter:
    """What the queue is narrowed to; empty means everything."""

    section: Section | None = None
    exercise: ExerciseRevision | None = None
    show: str = "to do"
    reason: str = ""


@dataclass(frozen=True)
class QueueLine:
    """A report in the queue with what was found, in numbers, and why it needs eyes."""

    work: Work
    review: Review
    reasons: tuple[Reason, ...]
    percent: float | None
    cause: str

    @property
    def name(self) -> str:
        """The student's, or a code where names are hidden."""
        return name_for_marking(self.work, self.review)

    @property
    def yield_words(self) -> str:
        return "" if self.percent is None else unit_after(fixed(self.percent, 1), "%")

    @property
    def rank(self) -> int:
        return min((r.rank for r in self.reasons), default=STRAIGHT.rank)

    @property
    def is_straight(self) -> bool:
        return not self.reasons


@dataclass(frozen=True)
class SnapshotFacts:
    """The few facts of an assessment that place a report in the queue."""

    reasons: tuple[Reason, ...] = ()
    percent: float | None = None
    cause: str = ""


def queue_lines(enrolment: Enrolment, wanted: QueueFilter) -> list[QueueLine]:
    """Reports of the sections this person sees, in the order in which they need eyes.

    Not a report of one's own, from before one became a TA.
    """
    reviews = list(_reviews(enrolment, wanted))
    facts = _facts_of(reviews)
    lines = [_line(review, facts.get(review.work_id, SnapshotFacts())) for review in reviews]
    lines = [line for line in lines if _has_reason(line, wanted.reason)]
    return sorted(lines, key=_order)


@dataclass(frozen=True)
class QueueColumns:
    """What differs between the reports of a queue; what all share is said once above them."""

    section: bool
    exercise: bool
    state: bool


def queue_columns(lines: Sequence[QueueLine]) -> QueueColumns:
    return QueueColumns(
        section=len({line.work.assignment.section_id for line in lines}) > 1,
        exercise=len({line.work.revision_id for line in lines}) > 1,
        state=len({(line.review.state, line.review.reviewer_id) for line in lines}) > 1,
    )


def _order(line: QueueLine) -> tuple[int, datetime, int]:
    return line.rank, line.review.waiting_since, line.work.pk


def _has_reason(line: QueueLine, key: str) -> bool:
    if not key:
        return True
    return line.is_straight if key == STRAIGHT.key else key in {r.key for r in line.reasons}


def _reviews(enrolment: Enrolment, wanted: QueueFilter) -> QuerySet[Review]:
    reviews = (
        Review.objects.filter(work__assignment__section__in=sections_seen_by(enrolment))
        .exclude(work__enrolment=enrolment)
        .select_related(
            "work__enrolment__person",
            "work__assignment__section",
            "work__revision__course",
            "reviewer",
        )
        .annotate(
            asks=Exists(
                MarkQuery.objects.filter(review=OuterRef("pk"), answered_at__isnull=True)
            ),
            disagrees=Exists(_signs_that_do_not_agree()),
        )
    )
    if wanted.section is not None:
        reviews = reviews.filter(work__assignment__section=wanted.section)
    if wanted.exercise is not None:
        reviews = reviews.filter(work__revision=wanted.exercise)
    return _in_state(reviews, wanted.show)


def _signs_that_do_not_agree() -> QuerySet[Reading]:
    """What holds of a report's record and was marked as not agreeing with the product."""
    return Reading.objects.filter(
        record=OuterRef("work__bench_record"),
        kind=ReadingKind.WITNESS,
        agrees=False,
        withdrawn=False,
        superseded_by__isnull=True,
    )


def _in_state(reviews: QuerySet[Review], show: str) -> QuerySet[Review]:
    if show == "to do":
        open_query = MarkQuery.objects.filter(review=OuterRef("pk"), answered_at__isnull=True)
        return reviews.filter(state__in=TO_DO) | reviews.filter(Exists(open_query))
    if show == "all":
        return reviews
    return reviews.filter(state=show)


def _facts_of(reviews: Sequence[Review]) -> dict[int, SnapshotFacts]:
    """Facts of the newest assessment of each work, by the work's key."""
    rows = AssessmentSnapshot.objects.filter(work__in=[r.work_id for r in reviews]).order_by(
        "made_at", "pk").values_list("work_id", "pk")
    newest = dict(rows)
    found = verdicts(AssessmentSnapshot.objects.filter(pk__in=newest.values()))
    return {work: facts_of(found[pk]) for work, pk in newest.items()}


def facts_of(verdict: Verdict) -> SnapshotFacts:
    """What of an assessment decides on its place in the queue."""
    top = verdict.diagnosis[0] if verdict.diagnosis else None
    return SnapshotFacts(
        reasons=tuple(_reasons(verdict, top)),
        percent=next((y.percent for y in verdict.readings if y.percent is not None), None),
        cause=top.title if top else "",
    )


def _reasons(verdict: Verdict, top: Hypothesis | None) -> Iterable[Reason]:
    findings, yields = verdict.findings, verdict.readings
    outside = any(y.in_done_band in ("below", "above") for y in yields)
    if any(f.strength is Strength.SAFETY_HOLD for f in findings):
        yield HOLD
    if any(f.code == LITTLE_WEIGHED for f in findings):
        yield LITTLE
    if any(y.percent is not None and y.percent > 100 for y in yields):
        yield ABOVE
    if top is not None and (outside or top.key != NOTHING_WRONG) and (
        top.probability < UNCERTAIN_BELOW
    ):
        yield UNCERTAIN
    if any(f.question for f in findings):
        yield QUESTION
    if outside:
        yield OUTSIDE
    if not yields or all(y.mass_g is None for y in yields):
        yield NO_READING


def _line(review: Review, facts: SnapshotFacts) -> QueueLine:
    asked = (ASKED,) if getattr(review, "asks", False) else ()
    if review.work.is_being_assessed or review.work.cannot_be_carried_out:
        # What the last assessment says is about less than came in.
        stands = FAILED if review.work.cannot_be_carried_out else UNASSESSED
        facts = SnapshotFacts((stands,))
    sign = (SIGN,) if getattr(review, "disagrees", False) else ()
    reasons = tuple(sorted((*facts.reasons, *asked, *sign), key=lambda r: r.rank))
    return QueueLine(review.work, review, reasons, facts.percent, facts.cause)


@dataclass(frozen=True)
class Neighbours:
    """The reports before and after one in the queue, and its place there."""

    previous: Work | None
    following: Work | None
    place: int | None
    count: int


def neighbours(lines: Sequence[QueueLine], work: Work) -> Neighbours:
    """Places in the queue; for a report that has left it, the first one follows."""
    works = [line.work for line in lines]
    ids = [w.pk for w in works]
    if work.pk not in ids:
        return Neighbours(None, works[0] if works else None, None, len(works))
    at = ids.index(work.pk)
    return Neighbours(
        works[at - 1] if at else None,
        works[at + 1] if at + 1 < len(works) else None,
        at + 1,
        len(works),
    )


def assignments_to_release(enrolment: Enrolment) -> QuerySet[Assignment]:
    """Assignments of the person's sections with reports that are reviewed, not released."""
    ready = Review.objects.filter(
        work__assignment=OuterRef("pk"), state=Review.State.REVIEWED
    )
    return (
        Assignment.objects.filter(Exists(ready), section__in=sections_seen_by(enrolment))
        .select_related("revision__course", "section")
        .order_by("section__name")
    )


def assignments_held_back(enrolment: Enrolment) -> list[Assignment]:
    """Assignments with released results that students do not see yet, because another section
    that shares the exercise still takes readings."""
    released = Review.objects.filter(work__assignment=OuterRef("pk"), state=Review.State.RELEASED)
    found = Assignment.objects.filter(
        Exists(released),
        section__in=sections_seen_by(enrolment),
        results_opened_at__isnull=True,
    ).select_related("revision__course", "section")
    return [assignment for assignment in found if has_open_readings(assignment.revision)]


def exercises_to_review(enrolment: Enrolment) -> QuerySet[ExerciseRevision]:
    """Revisions that any work of the person's sections is on."""
    return (
        ExerciseRevision.objects.filter(
            works__assignment__section__in=sections_seen_by(enrolment)
        )
        .distinct()
        .order_by("title", "-number")
    )


def assignments_overdue(enrolment: Enrolment) -> list[Assignment]:
    """Assignments of the person's sections with something to lock or to assess."""
    return list(assignments_to_bring_in().filter(section__in=sections_seen_by(enrolment)))
