"""Whether everybody marks alike: anchor reports, second readings, and what each person gives.

Means and spreads are in points. The spread of some marks is their sample standard deviation,
None for fewer than two.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from workups.exercise.exercise import CHECK_TITLES
from workups.grading.finding_titles import finding_title
from workups.grading.rule import RULES
from workups.models import (
    AssessmentSnapshot,
    ComparedMark,
    ComparedReport,
    Enrolment,
    ExerciseRevision,
    Person,
    Review,
    Role,
    Work,
)
from workups.selectors.anonymity import marking_code
from workups.selectors.marks import Points, points_of, standing_of
from workups.selectors.verdicts import verdicts

MARKED = frozenset({Review.State.REVIEWED, Review.State.RELEASED})


@dataclass(frozen=True)
class Reading:
    """The points one person, or the computation, gives a report: by check, and together."""

    who: str
    points: tuple[float, ...]
    remark: str = ""

    @property
    def total(self) -> float:
        return sum(self.points)


@dataclass(frozen=True)
class Comparison:
    """A compared report: the computed points, every reader's, and how far they are apart."""

    report: ComparedReport
    checks: tuple[str, ...]
    computed: Reading
    readings: tuple[Reading, ...]
    missing: tuple[str, ...]

    @property
    def code(self) -> str:
        return f"Report {marking_code(self.report.work)}"

    @property
    def titles(self) -> list[str]:
        return [CHECK_TITLES[name] for name in self.checks]

    @property
    def ranges(self) -> list[float]:
        """Highest less lowest points by check, then of the totals; empty for one reader."""
        if len(self.readings) < 2:
            return []
        columns = [*zip(*(r.points for r in self.readings), strict=True)]
        columns.append(tuple(r.total for r in self.readings))
        return [max(column) - min(column) for column in columns]

    @property
    def spread(self) -> float | None:
        return spread_of([r.total for r in self.readings])


@dataclass(frozen=True)
class MarkerLine:
    """One person's marking of an exercise: reports, mean points computed and given, spread."""

    who: str
    reports: int
    computed: float
    given: float
    spread: float | None
    changed: int
    overruled: int

    @property
    def by_hand(self) -> float:
        """What this person gives above the computed points, on average."""
        return self.given - self.computed


@dataclass(frozen=True)
class OverruledLine:
    """A finding with the reports it cost points in, and how many of them it was overruled in."""

    code: str
    title: str
    charged: int
    overruled: int
    has_rule: bool

    @property
    def percent(self) -> float:
        return 100.0 * self.overruled / self.charged if self.charged else 0.0


def spread_of(values: Sequence[float]) -> float | None:
    return stdev(values) if len(values) > 1 else None


def find_compared(work: Work) -> ComparedReport | None:
    return ComparedReport.objects.filter(work=work, dropped_at__isnull=True).first()


def compared_reports(revision: ExerciseRevision) -> list[ComparedReport]:
    return list(
        ComparedReport.objects.filter(work__revision=revision, dropped_at__isnull=True)
        .select_related("work__revision__course", "work__enrolment__person", "work__review")
        .order_by("purpose", "chosen_at", "pk")
    )


def comparison_of(report: ComparedReport) -> Comparison:
    """The report with what everybody gave; `missing` names the TAs of an anchor still to come."""
    snapshot = AssessmentSnapshot.objects.filter(work=report.work).first()
    checks = snapshot.to_core().checks if snapshot else ()
    names = tuple(c.name for c in checks)
    marks = newest_marks(report)
    is_second = report.purpose == ComparedReport.Purpose.SECOND
    first = _reviewed(report.work, names) if is_second else None
    given = [first, *(_reading(mark, names) for mark in marks.values())]
    return Comparison(
        report=report,
        checks=names,
        computed=Reading("Computed", tuple(c.points for c in checks)),
        readings=tuple(reading for reading in given if reading is not None),
        missing=tuple(str(p) for p in readers_to_come(report, marks)),
    )


def newest_marks(report: ComparedReport) -> dict[int, ComparedMark]:
    """By the person's key."""
    marks = ComparedMark.objects.filter(report=report).select_related("by").order_by("pk")
    return {mark.by_id: mark for mark in marks}


def _reading(mark: ComparedMark, checks: Iterable[str]) -> Reading:
    points = tuple(float(mark.points.get(name, 0.0)) for name in checks)
    return Reading(str(mark.by), points, mark.remark)


def _reviewed(work: Work, checks: Sequence[str]) -> Reading | None:
    """The mark that stands, as the first reading of a report that is read a second time."""
    review = Review.objects.filter(work=work, state__in=MARKED).select_related("reviewer").first()
    if review is None:
        return None
    _, given = points_of([review])[review.pk]
    points = tuple(given.get(name, 0.0) for name in checks)
    return Reading(f"{review.reviewer}, the mark that stands", points)


def readers_to_come(report: ComparedReport, marks: Mapping[int, ComparedMark]) -> list[Person]:
    """The TAs who have not marked an anchor yet. Anybody may read a report the second time."""
    if report.purpose != ComparedReport.Purpose.ANCHOR:
        return []
    tas = Enrolment.objects.filter(
        course=report.work.revision.course, role=Role.TA, left_at__isnull=True
    ).select_related("person")
    return [ta.person for ta in tas if ta.person_id not in marks]


def anchors_to_mark(person: Person, revision: ExerciseRevision) -> list[ComparedReport]:
    """Anchors of an exercise that this TA has to mark before any other report of it."""
    is_ta = Enrolment.objects.filter(
        course_id=revision.course_id, person=person, role=Role.TA, left_at__isnull=True
    ).exists()
    if not is_ta:
        return []
    return list(
        ComparedReport.objects.filter(
            work__revision=revision, purpose=ComparedReport.Purpose.ANCHOR, dropped_at__isnull=True
        ).exclude(marks__by=person)
    )


def reports_to_compare(enrolment: Enrolment) -> list[ComparedReport]:
    """What this person is asked to mark for the comparison: anchors, and second readings of
    reports that somebody else has marked."""
    return list(
        ComparedReport.objects.filter(
            work__revision__course_id=enrolment.course_id, dropped_at__isnull=True
        )
        .exclude(marks__by=enrolment.person)
        .exclude(purpose=ComparedReport.Purpose.SECOND, work__review__reviewer=enrolment.person)
        .select_related("work__revision")
        .order_by("purpose", "chosen_at", "pk")
    )


def marked_reviews(revision: ExerciseRevision) -> list[Review]:
    return list(
        Review.objects.filter(work__revision=revision, state__in=MARKED)
        .select_related("reviewer")
        .order_by("pk")
    )


def marker_lines(revision: ExerciseRevision) -> list[MarkerLine]:
    """What each person gave for an exercise, by name."""
    reviews = marked_reviews(revision)
    points = points_of(reviews)
    changed = set(standing_of(reviews).exclude(delta=0).values_list("review_id", flat=True))
    overruled = Counter(review for review, _, _ in overruled_findings(reviews))
    # By key: two people may have one name.
    by_person: dict[int | None, list[Review]] = defaultdict(list)
    for review in reviews:
        by_person[review.reviewer_id].append(review)
    lines = [
        _marker_line(str(mine[0].reviewer), mine, points, changed, overruled)
        for mine in by_person.values()
    ]
    return sorted(lines, key=lambda line: line.who)


def overruled_findings(reviews: Sequence[Review]) -> set[tuple[int, str, str]]:
    """Review, code and step of every finding that was overruled, each once."""
    rows = standing_of(reviews).exclude(finding_code="")
    return set(rows.values_list("review_id", "finding_code", "step_id"))


def _marker_line(
    who: str,
    reviews: Sequence[Review],
    points: Mapping[int, tuple[Points, Points]],
    changed: set[int],
    overruled: Mapping[int, int],
) -> MarkerLine:
    given = [sum(points[r.pk][1].values()) for r in reviews]
    return MarkerLine(
        who=who,
        reports=len(reviews),
        computed=fmean(sum(points[r.pk][0].values()) for r in reviews),
        given=fmean(given),
        spread=spread_of(given),
        changed=sum(r.pk in changed for r in reviews),
        overruled=sum(overruled.get(r.pk, 0) for r in reviews),
    )


def overruled_lines(revision: ExerciseRevision) -> list[OverruledLine]:
    """Findings that were overruled, the most often first, over the marked reports."""
    reviews = marked_reviews(revision)
    reports = {(review, code) for review, code, _ in overruled_findings(reviews)}
    overruled = Counter(code for _, code in reports)
    charged: Counter[str] = Counter()
    marked = AssessmentSnapshot.objects.filter(pk__in=[r.snapshot_id for r in reviews])
    for verdict in verdicts(marked).values():
        charged.update({f.code for f in verdict.findings if f.charged and f.score_loss > 0})
    return [
        OverruledLine(code, finding_title(code), charged[code], n, code in RULES)
        for code, n in overruled.most_common()
    ]
