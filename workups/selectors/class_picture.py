"""A whole class on one exercise: yields by section, what was found most, what was overruled."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median
from typing import Any

from django.db.models import F

from workups.grading.assessment import Band
from workups.grading.finding_titles import finding_title
from workups.grading.numbers import fixed, unit_after
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
    data = _assessments(works)
    by_section: dict[str, list[dict[str, Any]]] = {name: [] for name in sorted(names.values())}
    for pk, assessment in data.items():
        by_section[names[works[pk].assignment_id]].append(assessment)
    return ClassPicture(
        reports=len(data),
        targets=_targets(by_section, data.values()),
        findings=_findings(data.values(), works),
        causes=_causes(data.values()),
    )


def _assessments(works: Iterable[int]) -> dict[int, dict[str, Any]]:
    rows = AssessmentSnapshot.objects.filter(
        work__in=list(works), readings__isnull=False
    ).order_by("made_at", "pk")
    newest = dict(rows.values_list("work_id", "pk"))
    # Who has the exercise as published comes first: the picture's band is theirs.
    found = AssessmentSnapshot.objects.filter(pk__in=newest.values()).order_by(
        F("own_exercise").asc(nulls_first=True), "pk"
    )
    return dict(found.values_list("work_id", "assessment"))


def _targets(
    by_section: dict[str, list[dict[str, Any]]], assessments: Iterable[dict[str, Any]]
) -> list[TargetYields]:
    """Every product that somebody has; its expectation is that of the first who has it."""
    firsts: dict[str, dict[str, Any]] = {}
    for assessment in assessments:
        for expected in assessment["expected"]:
            firsts.setdefault(expected["target"], expected)
    return [
        TargetYields(
            key=expected["target"],
            name=expected["name"],
            theoretical_g=expected["theoretical_g"],
            band=_percent_band(expected),
            sections=tuple(
                _section(name, expected["target"], found) for name, found in by_section.items()
            ),
        )
        for expected in firsts.values()
    ]


def _percent_band(expected: dict[str, Any]) -> Band:
    per_g = 100.0 / expected["theoretical_g"]
    band = expected["class_band"]
    return Band(band["nominal"] * per_g, band["low"] * per_g, band["high"] * per_g, "%")


def _section(name: str, target: str, assessments: list[dict[str, Any]]) -> SectionYields:
    found = [
        y
        for assessment in assessments
        for y in assessment["readings"]
        if y["target"] == target and y["percent"] is not None
    ]
    places = Counter(y["in_class_band"] for y in found)
    return SectionYields(
        name,
        tuple(sorted(y["percent"] for y in found)),
        places["below"],
        places["inside"],
        places["above"],
    )


def _findings(
    assessments: Iterable[dict[str, Any]], works: dict[int, Work]
) -> list[FindingCount]:
    reports: Counter[str] = Counter()
    charged: Counter[str] = Counter()
    titles: dict[str, str] = defaultdict(str)
    for assessment in assessments:
        found = [f for check in assessment["checks"] for f in check["findings"]]
        reports.update({f["code"] for f in found})
        charged.update({f["code"] for f in found if f["charged"] and f["score_loss"] > 0})
        for finding in found:
            titles[finding["code"]] = finding_title(finding["code"])
    overruled = Counter(
        PointAdjustment.objects.filter(review__work__in=list(works), superseded_by__isnull=True)
        .exclude(finding_code="")
        .values_list("finding_code", flat=True)
    )
    return [
        FindingCount(code, titles[code], n, charged[code], overruled[code], code in RULES)
        for code, n in sorted(reports.items(), key=lambda item: (-item[1], item[0]))
    ]


def _causes(assessments: Iterable[dict[str, Any]]) -> list[CauseCount]:
    tops = Counter(a["diagnosis"][0]["title"] for a in assessments if a["diagnosis"])
    return [CauseCount(title, n) for title, n in tops.most_common()]
