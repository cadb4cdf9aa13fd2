"""Where a student is on the way from the reagent table to the mark."""

from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from workups.models import Review, Work
from workups.selectors.holds import waits_for_a_word
from workups.selectors.plans import current_plan, submitted_plan
from workups.selectors.reagents import judgement_of
from workups.selectors.reports import is_released
from workups.selectors.works import Dates, dates_of, readings_are_locked


@dataclass(frozen=True)
class Stage:
    """One stretch of the way. `mark` is a class of the stylesheet: done, waiting, late or none."""

    title: str
    url_name: str
    state: str
    mark: str = ""
    due: datetime | None = None


def journey_of(work: Work) -> list[Stage]:
    dates = dates_of(work)
    return [
        _reagents(work),
        _plan(work, dates.plan_due),
        _bench(work, dates.report_due),
        _report(work, dates.report_due),
    ]


def _reagents(work: Work) -> Stage:
    judgement = judgement_of(work)
    right = sum(v.right is True for v in judgement.verdicts.values())
    asked = len(judgement.verdicts)
    state = f"{right} of {asked} answers right" if asked else "nothing to fill in"
    return Stage("Reagent table", "fill-reagents", state, "done" if right == asked else "")


def _plan(work: Work, due: datetime) -> Stage:
    submitted, current = submitted_plan(work), current_plan(work)
    if submitted is None:
        late = timezone.now() > due
        state = "not begun" if current is None else "begun, not handed in"
        return Stage("Plan", "build-plan", state, "late" if late else "", due)
    late = submitted.submitted_at is not None and submitted.submitted_at > due
    state = "handed in late" if late else "handed in"
    if current is not None and current.data != submitted.data:
        return Stage("Plan", "build-plan", f"{state}, changed since", "waiting", due)
    if work.bench_record_id is None and work.cannot_be_carried_out:
        return Stage("Plan", "build-plan", f"{state}, not checked", "waiting", due)
    if work.bench_record_id is None and work.is_being_assessed:
        return Stage("Plan", "build-plan", f"{state}, being assessed", "waiting", due)
    if work.bench_record_id is None and waits_for_a_word(work):
        return Stage("Plan", "show-bench", f"{state}, waits for your TA’s word", "hold", due)
    return Stage("Plan", "build-plan", state, "late" if late else "done", due)


def _bench(work: Work, due: datetime) -> Stage:
    if readings_are_locked(work):
        return Stage("Bench", "show-bench", "readings locked", "done", due)
    if work.bench_record is not None:
        return Stage("Bench", "show-bench", "record open", "waiting", due)
    return Stage("Bench", "show-bench", "not begun", "", due)


def _report(work: Work, due: datetime) -> Stage:
    review = Review.objects.filter(work=work).first()
    if is_released(work):
        return Stage("Report", "show-report", "released", "done")
    if review is not None and review.state == Review.State.RETURNED:
        return Stage("Report", "show-report", "returned to you", "late")
    if work.report_submitted_at is not None:
        return Stage("Report", "show-report", "with your TA", "waiting")
    return Stage("Report", "show-report", "not handed in", "", due)


# The one thing a student has to do next on an exercise.


@dataclass(frozen=True)
class NextAction:
    """`url_name` takes the work's public id; empty when there is nothing to do but wait."""

    words: str
    url_name: str = ""
    due: datetime | None = None
    state: str = ""

    @property
    def is_late(self) -> bool:
        return self.due is not None and timezone.now() > self.due


def next_action(work: Work) -> NextAction:
    dates = dates_of(work)
    review = Review.objects.filter(work=work).first()
    if review is not None:
        return _after_lock(work, review, dates)
    if work.bench_record is None and not readings_are_locked(work):
        return _before_bench(work, dates)
    if work.bench_record is None:
        return NextAction("The time for this exercise is over", state="nothing handed in")
    if readings_are_locked(work):
        return NextAction("Write the report", "show-report", dates.report_due, "readings locked")
    return NextAction("Go on at the bench", "show-bench", dates.report_due, "at the bench")


def _before_bench(work: Work, dates: Dates) -> NextAction:
    submitted = submitted_plan(work)
    if submitted is None:
        plan = current_plan(work)
        if plan is not None:
            return NextAction("Go on with the plan", "build-plan", dates.plan_due, "plan begun")
        judgement = judgement_of(work)
        if not judgement.is_answered:
            return NextAction("Fill in the reagent table", "fill-reagents", dates.plan_due, "new")
        state = "reagent table done" if judgement.verdicts else "new"
        return NextAction("Build the plan", "build-plan", dates.plan_due, state)
    current = current_plan(work)
    if current is not None and current.data != submitted.data:
        return NextAction(
            "Submit the changed plan", "submit-plan", dates.plan_due, "changed since handed in"
        )
    if waits_for_a_word(work):
        return NextAction(
            "Show the plan to your TA", "show-bench", dates.report_due, "waits for your TA’s word")
    return NextAction("Go to the bench", "show-bench", dates.report_due, "plan handed in")


def _after_lock(work: Work, review: Review, dates: Dates) -> NextAction:
    if is_released(work):
        return NextAction("Read the result", "show-report", state="came back")
    if review.state == Review.State.RETURNED:
        return NextAction("Correct what was returned", "show-report", state="returned to you")
    if work.report_submitted_at is None:
        return NextAction("Write the report", "show-report", dates.report_due, "readings locked")
    return NextAction("Nothing to do: your TA has the report", state="with your TA")
