"""What a student's report page shows: before release the own readings, after it everything."""

from dataclasses import dataclass

from workups.chemistry.substances import Tables
from workups.grading.assessment import Assessment, ExpectedTarget, Hypothesis, TargetYield
from workups.grading.visibility import Moment, may_see_expected
from workups.models import AssessmentSnapshot, MarkQuery, Review, ReviewComment, Work
from workups.selectors.marks import CheckMark, Marks, marked_snapshot, marks_of, newest_snapshot
from workups.selectors.staff_report import StaffFinding, staff_checks
from workups.selectors.student_findings import ProductPlaces, product_places
from workups.words.material_facts import substance_name
from workups.words.numbers import fixed, interval, mass, with_uncertainty


@dataclass(frozen=True)
class YieldLine:
    """What was found for one target; expectations are empty before release."""

    name: str
    mass: str
    percent: str
    theoretical: str
    is_above_theory: bool
    expected_for_class: str = ""
    expected_for_done: str = ""
    place_in_class: str = ""
    place_in_done: str = ""


@dataclass(frozen=True)
class MarkLine:
    """One check with its points, what was changed by hand, and its findings with their costs."""

    mark: CheckMark
    findings: tuple[StaffFinding, ...]

    @property
    def changes(self) -> list[tuple[str, str]]:
        """What was given or taken by hand, with its sign, and why."""
        return [(a.delta_words, a.reason) for a in self.mark.adjustments if a.delta]


@dataclass(frozen=True)
class ReportPage:
    """Everything on the page that depends on the assessment and the review."""

    review: Review | None
    yields: list[YieldLine]
    marks: Marks | None
    mark_lines: list[MarkLine]
    comments: list[ReviewComment]
    queries: list[MarkQuery]
    hypotheses: list[Hypothesis]
    places: list[ProductPlaces]

    @property
    def has_changes(self) -> bool:
        """Whether any points were changed by hand."""
        return any(line.changes for line in self.mark_lines)


def report_page(work: Work, moment: Moment) -> ReportPage:
    open_to_all = may_see_expected(moment)
    snapshot = marked_snapshot(work) if open_to_all else newest_snapshot(work)
    assessment = snapshot.to_core() if snapshot else None
    review = Review.objects.filter(work=work).first()
    marks = marks_of(work) if open_to_all else None
    return ReportPage(
        review=review,
        yields=_yields(assessment, open_to_all, work.to_core().setup.tables),
        marks=marks,
        mark_lines=_mark_lines(work, marks),
        comments=_comments(review, moment),
        queries=list(review.queries.all()) if review and open_to_all else [],
        hypotheses=_hypotheses(assessment) if open_to_all else [],
        places=_places(work, snapshot) if open_to_all and snapshot else [],
    )


def _places(work: Work, snapshot: AssessmentSnapshot) -> list[ProductPlaces]:
    return product_places(
        snapshot.to_core(),
        snapshot.plan_revision.to_core(),
        Moment.RELEASED,
        work.to_core().setup.tables,
    )


def _yields(assessment: Assessment | None, with_expected: bool, known: Tables) -> list[YieldLine]:
    if assessment is None:
        return []
    expected = {e.target: e for e in assessment.expected}
    return [
        _yield_line(y, expected.get(y.target) if with_expected else None, known)
        for y in assessment.readings
    ]


def _yield_line(found: TargetYield, expected: ExpectedTarget | None, known: Tables) -> YieldLine:
    line = YieldLine(
        name=substance_name(found.target, known),
        mass=_with_u(found.mass_g, found.mass_u_g, "g"),
        percent=_with_u(found.percent, found.percent_u, "%"),
        theoretical=mass(found.theoretical_g),
        is_above_theory=found.percent is not None and found.percent > 100,
    )
    if expected is None:
        return line
    done = found.done_band
    return YieldLine(
        **{
            **vars(line),
            "expected_for_class": _band(expected.class_band.low, expected.class_band.high),
            "expected_for_done": _band(done.low, done.high) if done else "",
            "place_in_class": found.in_class_band,
            "place_in_done": found.in_done_band,
        }
    )


def _with_u(value: float | None, uncertainty: float | None, unit: str) -> str:
    if value is None:
        return ""
    if not uncertainty:
        return f"{fixed(value, 2)} {unit}"
    return with_uncertainty(value, uncertainty, unit)


def _band(low: float, high: float) -> str:
    return interval(low, high, "g")


def _mark_lines(work: Work, marks: Marks | None) -> list[MarkLine]:
    snapshot = marked_snapshot(work)
    if marks is None or snapshot is None:
        return []
    return [MarkLine(check.mark, check.findings) for check in staff_checks(work, snapshot)]


def _comments(review: Review | None, moment: Moment) -> list[ReviewComment]:
    """Remarks to the student: after release, or while the report is returned to them."""
    if review is None:
        return []
    shown = moment is Moment.RELEASED or review.state == Review.State.RETURNED
    comments = review.comments.filter(for_staff=False).select_related("by")
    return list(comments) if shown else []


def _hypotheses(assessment: Assessment | None) -> list[Hypothesis]:
    return [h for h in assessment.diagnosis if h.probability >= 0.05] if assessment else []
