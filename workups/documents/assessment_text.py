"""An assessment as a report for a terminal."""

import textwrap
from collections.abc import Iterator

from workups.chemistry.substances import Tables
from workups.exercise.exercise import CHECK_TITLES, Exercise
from workups.grading.assessment import (
    Assessment,
    Band,
    CurvePoint,
    ExpectedTarget,
    Number,
    PhaseReport,
    StepReport,
    TargetYield,
    TrailShare,
)
from workups.words.numbers import fixed

WIDTH = 92
_SMALLEST_SHARE = 0.005
_SMALLEST_MMOL = 0.01
_COLUMN = " " * 23
_WHOLE_FROM = 100


def assessment_text(assessment: Assessment, exercise: Exercise) -> str:
    """The whole assessment, section by section."""
    known = exercise.setup.tables
    sections = [_head(assessment, exercise), _expected(assessment, known),
                _steps(assessment, known), _checks(assessment), _readings(assessment, known),
                _diagnosis(assessment)]
    return "\n\n".join("\n".join(lines) for lines in map(list, sections) if lines) + "\n"


def _head(assessment: Assessment, exercise: Exercise) -> Iterator[str]:
    yield f"{exercise.title}  ({exercise.key})"
    yield f"{fixed(assessment.points, 1)} of {assessment.out_of:g} points"
    yield (f"engine {assessment.engine}, seed {assessment.seed}, {assessment.draws} draws; "
           "ranges are the 5th to 95th percentile")
    for hold in assessment.safety_holds:
        yield from _wrapped(f"SAFETY HOLD: {hold}", "")


def _expected(assessment: Assessment, known: Tables) -> Iterator[str]:
    yield "EXPECTED"
    for target in assessment.expected:
        yield f"  {target.name}"
        yield f"    theoretical        {target.theoretical_g:.2f} g"
        yield f"    class              {_band(target.class_band)}"
        yield f"    this plan          {_band(target.plan_band)}"
        yield from _wrapped(_composition(target, known), f"    {'made of':<19}", _COLUMN)
        yield f"    recovery           {_recovery(target)}"
        yield f"    same total volume  {_curve(target.same_total)}"
        yield f"    same portions      {_curve(target.same_portion)}"


def _recovery(target: ExpectedTarget) -> str:
    found = target.recovery
    if found is None:
        return "nothing is extracted"
    return (f"{_percent(found.nominal)} ({_percent(found.low)} to {_percent(found.high)}), "
            f"goal {_percent(target.recovery_goal)}")


def _composition(target: ExpectedTarget, known: Tables) -> str:
    parts = sorted(target.composition_g, key=lambda p: -p[1])
    shown = [f"{_name(key, known)} {grams:.2f} g" for key, grams in parts
             if grams >= _SMALLEST_SHARE]
    return ", ".join(shown) or "nothing"


def _curve(points: tuple[CurvePoint, ...]) -> str:
    return "  ".join(f"{p.portions}: {_percent(p.recovery)}" for p in points) or "no extraction"


def _steps(assessment: Assessment, known: Tables) -> Iterator[str]:
    yield "STEPS (flasks that a step changed; amounts in mmol)"
    before: tuple[PhaseReport, ...] = ()
    trail: tuple[TrailShare, ...] = ()
    for number, step in enumerate(assessment.steps, 1):
        yield from _wrapped(f"{number:>2}  {step.verb:<10} {_step_line(step)}", "  ", " " * 17)
        for phase in step.phases:
            if phase not in before:
                yield from _wrapped(_phase(phase, known), " " * 6, " " * 10)
        if step.trail != trail:
            yield from _wrapped(f"product: {_trail(step, known)}", " " * 6, " " * 10)
        before, trail = step.phases, step.trail


def _step_line(step: StepReport) -> str:
    parts = [
        step.step,
        f"{step.top} layer on top" if step.top else "",
        "may invert or separate badly" if step.may_invert else "",
        f"pH {step.pH:.1f}" if step.pH is not None else "",
        f"funnel {_percent(step.funnel_fill)} full" if step.funnel_fill is not None else "",
        _gas(step),
        *step.looks,
        *step.notes,
    ]
    return "; ".join(part for part in parts if part)


def _gas(step: StepReport) -> str:
    gas = step.gas
    if gas is None or gas.dry_mL < 1:
        return ""
    return (f"gas {gas.dry_mL:.0f} mL dry, {gas.with_vapour_mL:.0f} mL with vapour; "
            f"{gas.stoppered_gauge_kPa:+.0f} kPa if stoppered at once")


def _phase(phase: PhaseReport, known: Tables) -> str:
    amounts = sorted(phase.amounts_mmol, key=lambda a: -a[1])
    held = ", ".join(f"{_name(k, known)} {_figures(v)}" for k, v in amounts
                     if v >= _SMALLEST_MMOL)
    return (f"{phase.flask}, {phase.phase} {phase.volume_mL:.1f} mL"
            f"{f': {held}' if held else ''}")


def _trail(step: StepReport, known: Tables) -> str:
    several = len({t.target for t in step.trail}) > 1
    return ", ".join(
        f"{f'{_name(t.target, known)} ' if several else ''}{_percent(t.share)} in {t.place}"
        f"{f' ({t.phase})' if t.phase else ''}"
        for t in step.trail if t.share >= _SMALLEST_SHARE)


def _checks(assessment: Assessment) -> Iterator[str]:
    yield "CHECKS"
    for check in assessment.checks:
        yield (f"  {CHECK_TITLES.get(check.name, check.name):<20} {_percent(check.score):>6}"
               f"   {fixed(check.points, 1):>5} of {check.out_of:g} points")
        if check.note:
            yield from _wrapped(check.note, " " * 6)
        for finding in check.findings:
            at = f" at {finding.step}" if finding.step else ""
            charged = "" if finding.charged else ", not charged again"
            yield f"    {str(finding.strength).upper()}{at} ({finding.code}{charged})"
            yield from _wrapped(finding.message, " " * 6)
            if finding.numbers:
                yield from _wrapped("; ".join(map(_number, finding.numbers)), " " * 6)
            if finding.change:
                yield from _wrapped(f"Change: {finding.change}", " " * 6)
            if finding.why:
                source = f" [{finding.source}]" if finding.source else ""
                yield from _wrapped(f"Why: {finding.why}{source}", " " * 6)


def _number(number: Number) -> str:
    band = ""
    if number.low is not None and number.high is not None:
        band = f" ({_figures(number.low)} to {_figures(number.high)})"
    unit = "" if number.unit in ("", "1") else f" {number.unit}"
    return f"{number.name} {_figures(number.value)}{band}{unit}"


def _readings(assessment: Assessment, known: Tables) -> Iterator[str]:
    if assessment.readings:
        yield "READINGS"
    for found in assessment.readings:
        yield from _yield_lines(found, known)


def _yield_lines(found: TargetYield, known: Tables) -> Iterator[str]:
    yield f"  {_name(found.target, known)}"
    if found.mass_g is None or found.percent is None:
        yield "    no mass recorded"
        return
    yield f"    mass               {found.mass_g:.3f} g{_plus_minus(found.mass_u_g, 3)}"
    yield (f"    yield              {found.percent:.1f} %{_plus_minus(found.percent_u, 1)} "
           f"of {found.theoretical_g:.2f} g")
    yield f"    class band         {found.in_class_band}"
    done = f", {_band(found.done_band)}" if found.done_band else ""
    yield f"    band for what was done  {found.in_done_band}{done}"
    if found.constant_mass is not None:
        yield f"    constant mass      {'yes' if found.constant_mass else 'no'}"


def _diagnosis(assessment: Assessment) -> Iterator[str]:
    if assessment.diagnosis:
        yield "DIAGNOSIS (questions to ask, not verdicts)"
    for hypothesis in assessment.diagnosis:
        expected = f"; would weigh {_band(hypothesis.expected)}" if hypothesis.expected else ""
        place = f"{hypothesis.place}. " if hypothesis.place else ""
        yield f"  {_percent(hypothesis.probability):>6}  {place}{hypothesis.title}{expected}"
        for evidence in hypothesis.evidence:
            yield from _wrapped(f"- {evidence}", " " * 10, " " * 12)
        if hypothesis.question:
            yield from _wrapped(f"Ask: {hypothesis.question}", " " * 10)


def _band(band: Band) -> str:
    return f"{band.nominal:.2f} {band.unit} ({band.low:.2f} to {band.high:.2f})"


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def _figures(value: float) -> str:
    """Three figures, never in powers of ten for what a bench measures."""
    return f"{value:.0f}" if abs(value) >= _WHOLE_FROM else f"{value:.3g}"


def _plus_minus(uncertainty: float | None, digits: int) -> str:
    return "" if uncertainty is None else f" ± {uncertainty:.{digits}f}"


def _name(key: str, known: Tables) -> str:
    """The plain name without what stands in brackets behind it."""
    return known.material_name(key.removeprefix("agent:")).partition(" (")[0]


def _wrapped(text: str, first: str, rest: str | None = None) -> list[str]:
    return textwrap.wrap(" ".join(text.split()), WIDTH, initial_indent=first,
                         subsequent_indent=first if rest is None else rest)
