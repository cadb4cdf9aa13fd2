"""One assessment: a plan, what was done and what was weighed, against computed expectations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from workups.chemistry import ENGINE_VERSION
from workups.chemistry.draws import Draws
from workups.chemistry.materials import charged
from workups.chemistry.plan import Plan, PlanError
from workups.chemistry.readings import Readings
from workups.chemistry.run import Run, continue_run, prepare
from workups.chemistry.yields import with_actual_amounts

from . import rules as _rules  # noqa: F401 (registers all rules)
from .assessment import Assessment, CheckResult, Finding, Strength
from .benchdrying import NOT_YET, bench_drying
from .case import Case
from .causes import Diagnosed, diagnose_plan
from .diagnosis import diagnose
from .done import carried_out, readings_asked
from .exercise import CHECKS, Exercise
from .expected import expected_targets, weighed_mass
from .modelrun import model_run
from .record import record_questions
from .reports import step_reports
from .rule import band
from .scoring import check_result, score_of
from .yieldcheck import YieldJudgement, judge_yield

MEND_DRAWS = 48


@dataclass(frozen=True)
class _Done:
    """The workup as it was carried out, with the amounts really used."""

    case: Case
    questions: tuple[Finding, ...]
    yields: tuple[YieldJudgement, ...]


def assess(
    exercise: Exercise,
    plan: Plan | None = None,
    readings: Readings | None = None,
    *,
    seed: int = 1,
    draws: int = 500,
) -> Assessment:
    """Assess a plan (the model plan if none is given) and, if there are any, readings.

    Parameters
    ----------
    exercise : with its setup, goals and rubric.
    plan : what the student means to do.
    readings : what was recorded at the bench.
    seed, draws : of the Monte Carlo band; the same give the same assessment to the last byte.

    Raises
    ------
    PlanError, MissingFlask, UnknownMaterial, NotConverged : the plan cannot be carried out.
    """
    plan = exercise.model_plan if plan is None else plan
    if not plan.steps:
        raise PlanError("the plan has no steps")
    model = model_run(exercise, seed, draws)
    case = Case(exercise, plan, continue_run(model, plan))
    small = _small(case, seed, min(draws, MEND_DRAWS))
    diagnosed = diagnose_plan(small)
    done = _as_done(exercise, plan, readings, case, model, seed, draws) if readings else None
    checks = _checks(exercise, diagnosed, done, readings)
    holds = tuple(f.code for c in checks for f in c.findings if f.strength is Strength.SAFETY_HOLD)
    return Assessment(
        engine=ENGINE_VERSION,
        exercise=exercise.key,
        seed=seed,
        draws=draws,
        expected=expected_targets(case, small, model),
        steps=step_reports(case.run),
        checks=checks,
        readings=tuple(y.found for y in done.yields) if done else (),
        diagnosis=diagnose(done.case, model, readings) if done and readings else (),
        safety_holds=holds,
    )


def _small(case: Case, seed: int, draws: int) -> Case:
    """The same case with fewer draws: the first ones of the same table of random numbers."""
    run = continue_run(model_run(case.exercise, seed, draws), case.plan)
    return Case(case.exercise, case.plan, run)


def _as_done(
    exercise: Exercise,
    plan: Plan,
    readings: Readings,
    case: Case,
    model: Run,
    seed: int,
    draws: int,
) -> _Done:
    setup = with_actual_amounts(exercise.setup, readings.reagents)
    real = replace(exercise, setup=setup)
    start = case.run if setup == exercise.setup else prepare(setup, Draws(seed, draws))
    was = carried_out(start, plan, readings)
    done = Case(real, was.plan, was.run)
    inv = done.inventory
    charged_g = float(inv.mass_g(charged(inv, setup))[0])
    yields = tuple(
        judge_yield(
            setup,
            t.substance,
            readings,
            band(weighed_mass(model, t.substance), "g"),
            band(weighed_mass(done.run, t.substance), "g"),
            asked=readings_asked(plan, done.run, t.substance),
            charged_g=charged_g,
        )
        for t in setup.targets
    )
    return _Done(done, record_questions(readings, charged_g, was.not_skipped), yields)


def _checks(
    exercise: Exercise,
    diagnosed: Diagnosed,
    done: _Done | None,
    readings: Readings | None,
) -> tuple[CheckResult, ...]:
    by_check = {name: [f for f in diagnosed.findings if f.check == name] for name in CHECKS}
    results = []
    for name in CHECKS:
        if name == "reagent_table":
            continue
        if name == "yield":
            results.append(_yield_check(exercise, done))
        elif name == "drying":
            results.append(_drying_check(exercise, by_check[name], done, readings))
        else:
            results.append(check_result(exercise, name, by_check[name]))
    return tuple(results)


def _drying_check(
    exercise: Exercise,
    findings: Sequence[Finding],
    done: _Done | None,
    readings: Readings | None,
) -> CheckResult:
    """Plan and bench part by the rubric's share; the plan alone where there is no bench part."""
    bench_score, bench_findings, note = (
        bench_drying(done.case, readings) if done and readings else (None, (), NOT_YET)
    )
    share = exercise.rubric.drying_plan_share
    score = score_of(findings)
    if bench_score is not None:
        score = share * score + (1.0 - share) * bench_score
    return check_result(exercise, "drying", [*findings, *bench_findings], note, score)


def _yield_check(exercise: Exercise, done: _Done | None) -> CheckResult:
    """Mean over the targets, 0 for one without a mass; none is lost before there are readings."""
    if done is None:
        return check_result(exercise, "yield", (), "no readings yet", 1.0)
    findings = [*done.questions, *(f for y in done.yields for f in y.findings)]
    scores = [y.score or 0.0 for y in done.yields]
    missing = sum(y.score is None for y in done.yields)
    note = "no mass on record" if missing == len(scores) else ""
    if 0 < missing < len(scores):
        note = f"no mass on record for {missing} of {len(scores)} products: they count 0"
    return check_result(exercise, "yield", findings, note, sum(scores) / len(scores))
