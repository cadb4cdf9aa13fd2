"""A whole class on one exercise: yields by section, what was found most, what was overruled."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from django.db.models import F

from workups.grading.assessment import Band, ExpectedTarget, Verdict
from workups.grading.finding_titles import finding_title
from workups.grading.rule import RULES
from workups.models import (
    AssessmentSnapshot,
    Assignment,
    Enrolment,
    ExerciseRevision,
    PointAdjustment,
    Work,
)
from workups.selectors.courses import sections_seen_by
from workups.selectors.progress import current_works
from workups.selectors.verdicts import verdicts
from workups.words.numbers import fixed, unit_after


def _percent(value: float | None) -> str:
    return "" if value is None else unit_after(fixed(value, 1), "%")


@dataclass(frozen=True)
class SectionYields:
    """Percent yields found in one section, and how many lie where; `median` in per cent."""

    name: str
    percents: tuple[float, ...]
    below: int
    inside: int
    above: int

    @property
    def count(self) -> int:
        return len(self.percents)

    @property
    def median(self) -> float | None:
        return median(self.percents) if self.percents else None

    @property
    def median_words(self) -> str:
        return _percent(self.median)

    @property
    def low_words(self) -> str:
        return _percent(min(self.percents, default=None))

    @property
    def high_words(self) -> str:
        return _percent(max(self.percents, default=None))


@dataclass(frozen=True)
class TargetYields:
    """One product over the class; the band is the class expectation, in percent of theory."""

    key: str
    name: str
    theoretical_g: float
    band: Band
    sections: tuple[SectionYields, ...]


@dataclass(frozen=True)
class FindingCount:
    """A finding with the number of reports that have it, and how often it was overruled."""

    code: str
    title: str
    reports: int
    charged: int
    overruled: int
    has_rule: bool


@dataclass(frozen=True)
class CauseCount:
    """The most likely cause of how many reports."""

    title: str
    reports: int


@dataclass(frozen=True)
class ClassPicture:
    reports: int
    targets: list[TargetYields]
    findings: list[FindingCount]
    causes: list[CauseCount]


def class_picture(revision: ExerciseRevision, enrolment: Enrolment) -> ClassPicture:
    """Of the sections this person sees, from the newest assessment with readings of each work."""
    assignments = Assignment.objects.filter(
        revision=revision, section__in=sections_seen_by(enrolment)
    ).select_related("section")
    names = {a.pk: a.section.name for a in assignments}
    works = {w.pk: w for w in current_works(names)}
    data = _verdicts(works)
    by_section: dict[str, list[Verdict]] = {name: [] for name in sorted(names.values())}
    for pk, verdict in data.items():
        by_section[names[works[pk].assignment_id]].append(verdict)
    return ClassPicture(
        reports=len(data),
        targets=_targets(by_section, data.values()),
        findings=_findings(data.values(), works),
        causes=_causes(data.values()),
    )


def _verdicts(works: Iterable[int]) -> dict[int, Verdict]:
    """By the work's key. Who has the exercise as published comes first: the picture's band is
    theirs."""
    rows = AssessmentSnapshot.objects.filter(
        work__in=list(works), readings__isnull=False
    ).order_by("made_at", "pk")
    work_of = {pk: work for work, pk in dict(rows.values_list("work_id", "pk")).items()}
    found = verdicts(AssessmentSnapshot.objects.filter(pk__in=work_of).order_by(
        F("own_exercise").asc(nulls_first=True), "pk"
    ))
    return {work_of[pk]: verdict for pk, verdict in found.items()}


def _targets(
    by_section: Mapping[str, Sequence[Verdict]], of_all: Iterable[Verdict]
) -> list[TargetYields]:
    """Every product that somebody has; its expectation is that of the first who has it."""
    firsts: dict[str, ExpectedTarget] = {}
    for verdict in of_all:
        for expected in verdict.expected:
            firsts.setdefault(expected.target, expected)
    return [
        TargetYields(
            key=expected.target,
            name=expected.name,
            theoretical_g=expected.theoretical_g,
            band=_percent_band(expected),
            sections=tuple(
                _section(name, expected.target, found) for name, found in by_section.items()
            ),
        )
        for expected in firsts.values()
    ]


def _percent_band(expected: ExpectedTarget) -> Band:
    per_g = 100.0 / expected.theoretical_g
    band = expected.class_band
    return Band(band.nominal * per_g, band.low * per_g, band.high * per_g, "%")


def _section(name: str, target: str, verdicts_there: Iterable[Verdict]) -> SectionYields:
    found = [
        (y.percent, y.in_class_band)
        for verdict in verdicts_there
        for y in verdict.readings
        if y.target == target and y.percent is not None
    ]
    places = Counter(place for _, place in found)
    return SectionYields(
        name,
        tuple(sorted(percent for percent, _ in found)),
        places["below"],
        places["inside"],
        places["above"],
    )


def _findings(of_all: Iterable[Verdict], works: Mapping[int, Work]) -> list[FindingCount]:
    reports: Counter[str] = Counter()
    charged: Counter[str] = Counter()
    for verdict in of_all:
        reports.update({f.code for f in verdict.findings})
        charged.update({f.code for f in verdict.findings if f.charged and f.score_loss > 0})
    overruled = Counter(
        PointAdjustment.objects.filter(review__work__in=list(works), superseded_by__isnull=True)
        .exclude(finding_code="")
        .values_list("finding_code", flat=True)
    )
    return [
        FindingCount(code, finding_title(code), n, charged[code], overruled[code], code in RULES)
        for code, n in sorted(reports.items(), key=lambda item: (-item[1], item[0]))
    ]


def _causes(of_all: Iterable[Verdict]) -> list[CauseCount]:
    tops = Counter(v.diagnosis[0].title for v in of_all if v.diagnosis)
    return [CauseCount(title, n) for title, n in tops.most_common()]
