"""The yield report: what was expected, what was found, points, findings and the record."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from workups.chemistry.plan import FieldSpec, Plan, PlanError, Step
from workups.chemistry.readings import (
    DryingRecord,
    Readings,
    SamplePart,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.chemistry.substances import Tables
from workups.exercise.exercise import CHECK_TITLES, Exercise
from workups.grading.assessment import (
    Assessment,
    CheckResult,
    ExpectedTarget,
    Finding,
    Hypothesis,
    Number,
    TargetYield,
)
from workups.grading.scoring import ROUNDED
from workups.sheets.bands import yield_figure
from workups.sheets.content import GivenPoints, YieldReport
from workups.sheets.render import html_of, pdf_of
from workups.sheets.svg import Figure
from workups.sheets.wording import DIAGNOSIS_NOTICE, REPORT_NOTICES, day
from workups.words.material_facts import substance_name
from workups.words.numbers import (
    NBSP,
    amount,
    decimals_for,
    duration,
    fixed,
    interval,
    mass,
    percent,
    ranged,
    rounded,
    with_uncertainty,
)
from workups.words.sentences import step_heading, step_sentence

Pairs = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class TargetPart:
    """One product: picture, numbers, weighings, composition, witnesses and explanation."""

    name: str
    figure: Figure
    facts: Pairs
    weighings: tuple[tuple[str, ...], ...]
    composition: Pairs
    witnesses: tuple[str, ...]
    explanation: str


@dataclass(frozen=True)
class PointsRow:
    """Points of one check as given, and the computed ones where they were changed."""

    title: str
    points: str
    out_of: str
    remark: str


@dataclass(frozen=True)
class FindingText:
    """A finding as it is printed."""

    strength: str
    step: str
    message: str
    change: str
    numbers: str
    why: str


@dataclass(frozen=True)
class CheckPart:
    """A check with its findings."""

    title: str
    note: str
    findings: tuple[FindingText, ...]


def yield_report_pdf(report: YieldReport) -> bytes:
    """The report as PDF."""
    return pdf_of(yield_report_html(report))


def yield_report_html(report: YieldReport) -> str:
    """The report as the page that is printed."""
    assessment, worked_down = report.assessment, report.bench_plan or report.plan
    given = {g.check: g for g in report.given}
    diagnosis = assessment.diagnosis if report.with_diagnosis else ()
    return html_of(
        "yield_report.html",
        {
            "head": report.head,
            "title": report.exercise.title,
            "kind": "Yield report",
            "date": day(report.head.date),
            "targets": [target_part(e, report) for e in assessment.expected],
            "mass_balance": mass_balance(assessment),
            "points": [points_row(c, given.get(c.name)) for c in assessment.checks],
            "total": _points(sum(_as_given(c, given) for c in assessment.checks)),
            "out_of": _points(assessment.out_of),
            "rounded": ROUNDED,
            "checks": [
                check_part(c, report.exercise, report.plan)
                for c in assessment.checks
                if c.findings or c.note
            ],
            "deviations": deviations(report.exercise, worked_down, report.readings),
            "drying": [drying_line(d, worked_down) for d in report.readings.drying],
            "struck": report.struck,
            "answers": report.answers,
            "comment": report.comment,
            "diagnosis": [_hypothesis(h) for h in diagnosis],
            "diagnosis_notice": DIAGNOSIS_NOTICE,
            "notices": REPORT_NOTICES,
            "engine": assessment.engine,
        },
    )


def target_part(expected: ExpectedTarget, report: YieldReport) -> TargetPart:
    """All that concerns one product."""
    found = next((r for r in report.assessment.readings if r.target == expected.target), None)
    record = report.readings.targets.get(expected.target, TargetReadings())
    return TargetPart(
        expected.name,
        yield_figure(expected, found),
        yield_facts(expected, found),
        (*map(_weighing, record.weighings), *map(_part, record.parts)),
        _composition(expected, report.exercise.setup.tables),
        tuple(witness_line(w) for w in record.witnesses),
        record.explanation,
    )


def yield_facts(expected: ExpectedTarget, found: TargetYield | None) -> Pairs:
    """The numbers beside the picture, as name and value."""
    theoretical = found.theoretical_g if found else expected.theoretical_g
    facts = [
        ("Theoretical yield", rounded(theoretical, "g")),
        (
            "Expected of the class (90 % range)",
            interval(expected.class_band.low, expected.class_band.high, "g"),
        ),
    ]
    if found is None or found.mass_g is None:
        return (*facts, ("Found", "not recorded"))
    if found.done_band is not None:
        band = interval(found.done_band.low, found.done_band.high, "g")
        facts.append(("Expected for what was done (90 % range)", band))
    facts.append(("Found", with_uncertainty(found.mass_g, found.mass_u_g or 0.0, "g")))
    if found.percent is not None:
        facts.append(
            ("Percent yield", with_uncertainty(found.percent, found.percent_u or 0.0, "%"))
        )
    facts.append(("Against what was done", found.in_done_band or "not compared"))
    facts.append(("Against the class", found.in_class_band or "not compared"))
    facts.append(("Constant mass", _yes_no(found.constant_mass)))
    return tuple(facts)


def mass_balance(assessment: Assessment) -> str:
    """All products found together against all that could be had; empty for one product.

    The uncertainties of the masses are added in quadrature.
    """
    found = [r for r in assessment.readings if r.mass_g is not None]
    if len(assessment.expected) < 2 or len(found) < len(assessment.expected):
        return ""
    total = math.fsum(r.mass_g or 0.0 for r in found)
    u = math.sqrt(math.fsum((r.mass_u_g or 0.0) ** 2 for r in found))
    whole = math.fsum(r.theoretical_g for r in found)
    share = percent(total / whole) if whole > 0 else "not known"
    return f"{with_uncertainty(total, u, 'g')} found of {rounded(whole, 'g')} ({share})"


def _yes_no(value: bool | None) -> str:
    return "not known" if value is None else "yes" if value else "no"


def _weighing(w: Weighing) -> tuple[str, ...]:
    return (w.kind, mass(w.mass_g, w.readability_g), w.flask_number, w.balance, ", ".join(w.on_pan))


def _part(part: SamplePart) -> tuple[str, ...]:
    """A part taken out of the sample, as a line of the weighings."""
    where = f"{part.use} {part.text}".strip()
    return ("part", mass(part.mass_g, part.readability_g), "", "", where)


def _composition(expected: ExpectedTarget, known: Tables) -> Pairs:
    """What the weighed product is expected to hold, most first, with shares of its mass."""
    whole = sum(g for _, g in expected.composition_g)
    parts = sorted(expected.composition_g, key=lambda part: -part[1])
    decimals = decimals_for(whole, 3)
    return tuple(
        (substance_name(key, known), f"{fixed(g, decimals)}{NBSP}g ({percent(g / whole)})")
        for key, g in parts
        if whole > 0 and g / whole >= 5e-4
    )


def witness_line(w: Witness) -> str:
    """A sign of identity or purity in one line."""
    parts = [w.text]
    if w.low_C is not None:
        high = w.low_C if w.high_C is None else w.high_C
        parts.insert(
            0,
            amount(w.low_C, "°C")
            if high == w.low_C
            else f"{amount(w.low_C)} to {amount(high, '°C')}",
        )
    if w.agrees is not None:
        parts.append("agrees" if w.agrees else "does not agree")
    return f"{w.kind}: {', '.join(p for p in parts if p)}"


def _points(value: float) -> str:
    return fixed(value, 1)


def _as_given(check: CheckResult, given: Mapping[str, GivenPoints]) -> float:
    return given[check.name].points if check.name in given else check.points


def points_row(check: CheckResult, given: GivenPoints | None) -> PointsRow:
    """A line of the points table; a changed number keeps the computed one beside it."""
    points, remark = check.points, ""
    if given is not None:
        points = given.points
        changed = _points(given.points) != _points(check.points)
        computed = f"computed {_points(check.points)}" if changed else ""
        remark = "; ".join(p for p in (computed, given.reason) if p)
    return PointsRow(
        CHECK_TITLES.get(check.name, check.name), _points(points), _points(check.out_of), remark
    )


def check_part(check: CheckResult, exercise: Exercise, plan: Plan) -> CheckPart:
    """A check's note and findings in print."""
    return CheckPart(
        CHECK_TITLES.get(check.name, check.name),
        check.note,
        tuple(finding_text(f, exercise, plan) for f in check.findings),
    )


def finding_text(finding: Finding, exercise: Exercise, plan: Plan) -> FindingText:
    """A finding with the number of its step and its numbers in a row."""
    shown = "not charged again" if not finding.charged else ""
    strength = ", ".join(p for p in (finding.strength.capitalize(), shown) if p)
    why = f"{finding.why} ({finding.source})" if finding.source else finding.why
    return FindingText(
        strength,
        _step_words(finding.step, exercise, plan),
        finding.message,
        finding.change,
        "; ".join(number_text(n) for n in finding.numbers),
        why,
    )


def number_text(number: Number) -> str:
    """A computed number with its 90 % range; shares (no unit) in percent."""
    if number.unit:
        return f"{number.name} {ranged(number.value, number.low, number.high, number.unit)}"
    text = f"{number.name} {percent(number.value)}"
    if number.low is None or number.high is None:
        return text
    return f"{text} ({percent(number.low)} to {percent(number.high)})"


def _step_words(step_id: str, exercise: Exercise, plan: Plan) -> str:
    try:
        at = plan.index(step_id)
    except PlanError:
        return ""
    return f"Step {at + 1}, {step_heading(plan.steps[at], exercise)}"


def deviations(exercise: Exercise, plan: Plan, readings: Readings) -> list[tuple[str, str]]:
    """Steps not done as planned, or done with a remark: where and what."""
    planned = {step.id: step for step in plan.steps}
    lines = []
    for done in readings.steps:
        if done.mark == "done" and not done.remark:
            continue
        where = _step_words(done.step.id, exercise, plan) or done.step.title
        what = {
            "done": "",
            "skipped": "Skipped.",
            "changed": changes(planned.get(done.step.id), done.step),
            "added": f"Added: {step_sentence(done.step, exercise)}",
        }[done.mark]
        lines.append((where, " ".join(p for p in (what, done.remark) if p)))
    return lines


def changes(planned: Step | None, done: Step) -> str:
    """What was changed in a step: each field with the planned value in brackets."""
    if planned is None or planned.verb != done.verb:
        return "Changed."
    parts = [
        f"{spec.label.lower()} {_value(value, spec)} (planned {_value(before, spec)})"
        for (name, spec, value), (_, _, before) in zip(done.fields(), planned.fields(), strict=True)
        if value != before and name != "note"
    ]
    return f"Changed: {'; '.join(parts)}." if parts else "Changed."


def _value(value: object, spec: FieldSpec) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return amount(float(value), spec.unit)
    if isinstance(value, tuple):
        return ", ".join(value)
    return str(value)


def drying_line(record: DryingRecord, plan: Plan) -> str:
    """What was seen on drying, in one line."""
    try:
        parts = [f"step {plan.index(record.step) + 1}"]
    except PlanError:
        parts = []
    if record.agent_mass_g is not None:
        parts.append(f"{amount(record.agent_mass_g, 'g')} of agent")
    if record.portions is not None:
        parts.append(f"{record.portions} portion{'s' if record.portions != 1 else ''}")
    if record.minutes is not None:
        parts.append(duration(record.minutes))
    looks = (
        f"agent {record.agent_look}" if record.agent_look else "",
        f"liquid {record.liquid_look}" if record.liquid_look else "",
    )
    return ", ".join([*parts, *(look for look in looks if look)])


def _hypothesis(h: Hypothesis) -> tuple[str, str, str, str]:
    title = f"{h.place}. {h.title}" if h.place else h.title
    return title, percent(h.probability), " ".join(h.evidence), h.question
