"""One assessment: a plan, what was done and what was weighed, against computed expectations."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from workups.chemistry import ENGINE_VERSION
from workups.chemistry.cut import first_draws
from workups.chemistry.materials import charged
from workups.chemistry.plan import Plan, PlanError
from workups.chemistry.readings import Readings
from workups.chemistry.run import Run, Stopped, prepare, run_as_far
from workups.chemistry.yields import with_actual_amounts
from workups.exercise.exercise import CHECKS, Exercise

from . import rules as _rules  # noqa: F401 (registers all rules)
from .assessment import Assessment, CheckResult, Finding, Strength
from .case import Case
from .diagnosis.ranking import diagnose
from .done import carried_out, readings_asked
from .expected import expected_targets, weighed_mass
from .modelrun import model_run
from .points.causes import Diagnosed, diagnose_plan
from .points.ledger import ledger_lines, ledger_of
from .points.littleweighed import little_weighed, share_weighed
from .points.shortfall import Shortfall, shortfall_of
from .recorded.benchdrying import NOT_YET, bench_drying
from .recorded.record import record_questions
from .recorded.yieldcheck import (
    ENOUGH_DELIVERED,
    NO_YIELD,
    Product,
    YieldJudgement,
    judge_yield,
    of_enough,
)
from .reports import not_carried_out, step_reports
from .rule import band
from .scoring import check_result, score_of

MEND_DRAWS = 48
CANNOT_BE_DONE = "cannot-be-carried-out"
NOTHING_TO_WEIGH = (
    "no readings yet; next to nothing of the product comes to the balance unspoilt")


@dataclass(frozen=True)
class _Done:
    """The workup as it was carried out, with the amounts really used."""

    case: Case
    questions: tuple[Finding, ...]
    yields: tuple[YieldJudgement, ...]


@dataclass(frozen=True)
class _Bench:
    """The bench part of the drying check: score 0..1 (None: there is none), findings, note."""

    score: float | None = None
    findings: tuple[Finding, ...] = ()
    note: str = NOT_YET

    def share(self, exercise: Exercise) -> float:
        """Its share of the check, 0..1; 0 where the plan alone is judged."""
        return 0.0 if self.score is None else 1.0 - exercise.rubric.drying_plan_share


def assess(
    exercise: Exercise,
    plan: Plan | None = None,
    readings: Readings | None = None,
    *,
    seed: int = 1,
    draws: int = 500,
    curves: bool = False,
) -> Assessment:
    """Assess a plan (the model plan if none is given) and, if there are any, readings.

    Parameters
    ----------
    exercise : with its setup, goals and rubric.
    plan : what the student means to do.
    readings : what was recorded at the bench.
    seed, draws : of the Monte Carlo band; the same give the same assessment to the last byte.
    curves : whether the recovery with one to six portions is worked out too, for whoever looks.

    Every plan with a step gets an assessment. Where a step cannot be carried out, what comes
    before it is assessed, and a safety hold says which step it is: a person has to look.

    Raises
    ------
    PlanError : the plan has no steps.
    MissingFlask, UnknownMaterial, NotConverged : the exercise's own model plan cannot be carried
        out.
    """
    plan = exercise.model_plan if plan is None else plan
    if not plan.steps:
        raise PlanError("the plan has no steps")
    model = model_run(exercise, seed, draws)
    run, stopped = run_as_far(model, plan)
    case = Case(exercise, Plan(run.steps), run)
    few = first_draws(run, model_run(exercise, seed, min(draws, MEND_DRAWS)))
    small = replace(case, run=few)
    done = _as_done(exercise, plan, readings, case, small, model) if readings else None
    bench = _Bench(*bench_drying(done.case, readings)) if done and readings else _Bench()
    diagnosed = diagnose_plan(small, drying_share=1.0 - bench.share(exercise))
    if stopped:
        diagnosed = replace(diagnosed, findings=(_stop(stopped), *diagnosed.findings))
    at_balance = _at_the_balance(case, done, diagnosed.shortfall)
    diagnosed = replace(diagnosed, findings=(*diagnosed.findings, *at_balance))
    checks = _checks(exercise, diagnosed, done, bench)
    holds = tuple(f.code for c in checks for f in c.findings if f.strength is Strength.SAFETY_HOLD)
    return Assessment(
        engine=ENGINE_VERSION,
        exercise=exercise.key,
        seed=seed,
        draws=draws,
        expected=expected_targets(case, model, small if curves else None),
        steps=(*step_reports(case.run),
               *(not_carried_out(s) for s in plan.steps[len(run.outcomes):])),
        ledger=ledger_lines(case.run),
        checks=checks,
        readings=tuple(y.found for y in done.yields) if done else (),
        diagnosis=diagnose(done.case, model, readings) if done and readings else (),
        safety_holds=holds,
    )


def _stop(stopped: Stopped) -> Finding:
    """A step that cannot be carried out: nothing is known of what comes after it."""
    return Finding(
        CANNOT_BE_DONE,
        "layers_safety",
        Strength.SAFETY_HOLD,
        stopped.step.id,
        f"This step cannot be carried out as it is written: {stopped.why}. What comes after it "
        "was not looked at.",
        "Correct the step, or the one that should come before it.",
        "A plan is checked by carrying it out in the simulation, step by step, with what is in the "
        "flasks at that moment.",
        "the simulation of this plan",
        cause=f"{CANNOT_BE_DONE}:{stopped.step.id}",
        charged=False,
    )


def _as_done(
    exercise: Exercise,
    plan: Plan,
    readings: Readings,
    case: Case,
    small: Case,
    model: Run,
) -> _Done:
    setup = with_actual_amounts(exercise.setup, readings.reagents)
    real = replace(exercise, setup=setup)
    start = case.run if setup == exercise.setup else prepare(setup, model.inventory.draws)
    was = carried_out(start, plan, readings)
    done = Case(real, was.plan, was.run)
    inv = done.inventory
    bands = {t.substance: band(weighed_mass(done.run, t.substance), "g") for t in setup.targets}
    most_g = max(float(inv.mass_g(charged(inv, setup))[0]), *(b.high for b in bands.values()))
    as_planned, _ = run_as_far(small.run, was.plan)
    left = {t.standing.ledger.target: t
            for t in shortfall_of(Case(exercise, Plan(as_planned.steps), as_planned)).targets}
    yields = tuple(
        judge_yield(
            setup,
            t.substance,
            readings,
            band(weighed_mass(model, t.substance), "g"),
            bands[t.substance],
            product=Product(_delivered(model, done.run, t.substance),
                            1.0 - float(left[t.substance].spoilt.mean())),
            asked=readings_asked(plan, done.run, t.substance),
            charged_g=most_g,
        )
        for t in setup.targets
    )
    return _Done(done, record_questions(readings, most_g, was.not_skipped), yields)


def _delivered(model: Run, run: Run, target: str) -> float:
    """Share weighed of a target, of what the model plan brings, mean over the draws."""
    good = float(ledger_of(model, target).delivered.mean())
    return float(ledger_of(run, target).delivered.mean()) / good if good > 0 else 1.0


def _at_the_balance(case: Case, done: _Done | None, written: Shortfall) -> list[Finding]:
    """What is charged where a plan that brings its product left next to nothing to weigh."""
    if done is None or written.delivered < ENOUGH_DELIVERED:
        return []
    expected = [float(m.mass_g[0]) for m in case.measures()]
    weighed = share_weighed(expected, [y.found.mass_g for y in done.yields])
    found = little_weighed(case.exercise.rubric.points, weighed)
    return [] if found is None else [found]


def _checks(
    exercise: Exercise,
    diagnosed: Diagnosed,
    done: _Done | None,
    bench: _Bench,
) -> tuple[CheckResult, ...]:
    by_check = {name: [f for f in diagnosed.findings if f.check == name] for name in CHECKS}
    results = []
    for name in CHECKS:
        if name == "reagent_table":
            continue
        if name == "yield":
            results.append(_yield_check(exercise, done, diagnosed))
        elif name == "drying":
            results.append(_drying_check(exercise, by_check[name], bench))
        else:
            results.append(check_result(exercise, name, by_check[name]))
    return tuple(results)


def _drying_check(
    exercise: Exercise, findings: Sequence[Finding], bench: _Bench
) -> CheckResult:
    """What the plan loses, by rules and ledger, and what the bench part does by its share."""
    share = bench.share(exercise)
    at_bench = [replace(f, score_loss=share * f.score_loss) for f in bench.findings]
    lost = 0.0 if bench.score is None else share * (1.0 - bench.score)
    score = max(0.0, score_of(findings) - lost)
    return check_result(exercise, "drying", [*findings, *at_bench], bench.note, score)


def _ruined_by(exercise: Exercise, diagnosed: Diagnosed) -> str:
    """The cause that takes most points of a plan that brings next to nothing unspoilt to the
    balance; empty for any other plan."""
    if diagnosed.shortfall.worth >= ENOUGH_DELIVERED:
        return ""
    points = exercise.rubric.points
    charged = [f for f in diagnosed.findings if f.charged]
    return max(charged, key=lambda f: f.score_loss * points.get(f.check, 0.0)).cause if (
        charged) else ""


def _yield_check(exercise: Exercise, done: _Done | None, diagnosed: Diagnosed) -> CheckResult:
    """Mean over the targets, 0 for one without a mass. Before there are readings nothing is lost,
    unless the plan brings next to nothing unspoilt to the balance, which the note says."""
    worth = diagnosed.shortfall.worth
    if done is None:
        score = of_enough(worth)
        note = "no readings yet" if score == 1.0 else NOTHING_TO_WEIGH
        return check_result(exercise, "yield", (), note, score)
    cause = _ruined_by(exercise, diagnosed)
    findings = [*done.questions, *(
        replace(f, cause=cause) if cause and f.code in NO_YIELD else f
        for y in done.yields for f in y.findings)]
    scores = [y.score or 0.0 for y in done.yields]
    missing = sum(y.score is None for y in done.yields)
    note = "no mass on record" if missing == len(scores) else ""
    if 0 < missing < len(scores):
        note = f"no mass on record for {missing} of {len(scores)} products: they count 0"
    return check_result(exercise, "yield", findings, note, sum(scores) / len(scores))
