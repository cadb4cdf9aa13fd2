from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from workups.chemistry.plan import Plan
from workups.documents import readings_from_data
from workups.grading.assessment import StepReport
from workups.grading.visibility import Moment, may_see_expected
from workups.models import AssessmentSnapshot, Work
from workups.models.review import CHECK_CHOICES
from workups.selectors.marks import marked_snapshot, newest_snapshot
from workups.selectors.report_page import report_page
from workups.selectors.reports import moment_of, needs_explanation
from workups.services import reports
from workups.services.assessments import compute_assessment, steps_as_done
from workups.services.computing import CannotBeCarriedOut
from workups.services.reports import (
    ReadingsAreOpen,
    ReportIsClosed,
    ReportIsNotReleased,
    report_is_open,
)
from workups.sheets.bands import yield_figure
from workups.sheets.scheme import Beside, schemes_beside
from workups.sheets.scheme.beside import Side
from workups.sheets.yield_report import deviations, drying_line, mass_balance
from workups.web.access import CourseAccess, current_person, get_work_for
from workups.web.bench.tables import target_tables
from workups.web.requests import HtmxRequest
from workups.web.schemes import DONE, planned_beside_done, planned_side, scheme_of_plan


class ReportForm(forms.Form):
    """Answers to the task's questions and the student's own explanation, which is required where
    `is_required`. With nothing written at all it asks once whether that is meant."""

    explanation = forms.CharField(
        label="Your explanation",
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
    )

    def __init__(
        self,
        *args: object,
        is_required: bool,
        questions: Sequence[str],
        answers: Sequence[Mapping[str, str]] = (),
        **kwargs: object,
    ) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.questions = questions
        before = {one["question"]: one["answer"] for one in answers}
        for number, question in enumerate(questions, 1):
            self.fields[f"answer-{number}"] = forms.CharField(
                label=question,
                max_length=2000,
                required=False,
                initial=before.get(question, ""),
                widget=forms.Textarea(attrs={"rows": 3}),
            )
        self.asks_if_empty = False
        field = self.fields["explanation"]
        field.required = is_required
        field.help_text = (
            "The yield is above 100 %: more was weighed than could have been made. What else was "
            "in the flask, and how could you find out?"
            if is_required
            else "What you think happened: what went into the other layer, what was lost, what "
            "else was weighed. Deviations from the plan too."
        )
        field.error_messages["required"] = "Above 100 % an explanation in your own words is needed."

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not any(cleaned.values()) and "empty" not in self.data:
            self.asks_if_empty = True
            raise forms.ValidationError("Nothing is written. Is the report meant to be empty?")
        return cleaned

    def answers(self) -> list[tuple[str, str]]:
        """Each question with what was written; only after `is_valid`."""
        said = [self.cleaned_data[f"answer-{n}"] for n in range(1, len(self.questions) + 1)]
        return list(zip(self.questions, said, strict=True))

    @property
    def answer_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name != "explanation"]


class QueryForm(forms.Form):
    check_name = forms.ChoiceField(
        label="About",
        choices=[("", "the whole report"), *CHECK_CHOICES],
        required=False,
    )
    text = forms.CharField(
        label="Your question",
        max_length=2000,
        help_text="What you think should be marked differently, and why.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )


@dataclass(frozen=True)
class Another:
    """A plan that the own one can be laid beside; ``plan`` is None for what was done."""

    key: str
    name: str
    plan: Plan | None


@require_safe
def show_report(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    return render_report(request, access, work)


def render_report(
    request: HtmxRequest, access: CourseAccess, work: Work, **forms: Any
) -> HttpResponse:
    moment = moment_of(work)
    if moment is Moment.PLANNING:
        context = {"access": access, "work": work}
        return render(request, "workups/reports/before_report.html", context)
    record = work.bench_record
    context = {
        "access": access,
        "work": work,
        "is_released": moment is Moment.RELEASED,
        "is_open": report_is_open(work) and not access.course.is_archived,
        "page": report_page(work, moment),
        **record_in_words(work, moment),
        **(pictures(work) if may_see_expected(moment) else {}),
        "targets": target_tables(record, work.to_core()) if record else [],
        "form": report_form(work),
        "query_form": QueryForm(),
        **forms,
    }
    return render(request, "workups/reports/show_report.html", context)


def report_form(work: Work, data: Any = None) -> ReportForm:
    return ReportForm(
        data,
        is_required=needs_explanation(work),
        questions=work.to_core().texts.questions,
        answers=work.answers,
        initial={"explanation": work.explanation},
    )


def record_in_words(work: Work, moment: Moment) -> dict[str, Any]:
    """What was done otherwise than planned, drying as recorded, and all products together; after
    release as the mark rests on them, whatever a partner's record did since."""
    is_released = moment is Moment.RELEASED
    snapshot = marked_snapshot(work) if is_released else newest_snapshot(work)
    if snapshot is None or snapshot.readings is None or work.bench_record is None:
        return {}
    exercise = snapshot.exercise_to_core()
    plan = work.bench_record.plan_revision.to_core()
    readings = readings_from_data(snapshot.readings)
    return {
        "deviations": deviations(exercise, plan, readings),
        "drying": [drying_line(line, plan) for line in readings.drying],
        "mass_balance": mass_balance(snapshot.to_core()),
    }


def pictures(work: Work) -> dict[str, Any]:
    """After release: both bands with the mass found for each target, and what the plan does with
    them, beside what was done."""
    snapshot = marked_snapshot(work)
    if snapshot is None:
        return {}
    assessment = snapshot.to_core()
    found = {y.target: y for y in assessment.readings}
    beside = planned_beside_done(snapshot)
    return {
        "figures": [yield_figure(e, found.get(e.target)) for e in assessment.expected],
        "beside": beside,
        "scheme": None if beside else scheme_of_plan(snapshot),
    }


@require_POST
def submit_report(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    form = report_form(work, request.POST)
    if not form.is_valid():
        return render_report(request, access, work, form=form)
    try:
        reports.submit_report(
            actor=access.person,
            work=work,
            explanation=form.cleaned_data["explanation"],
            answers=form.answers(),
        )
    except ReadingsAreOpen:
        messages.error(request, "Lock your readings first: the report follows them.")
    except ReportIsClosed:
        messages.error(request, "The report is with your TA and was not returned to you.")
    else:
        messages.success(request, "Your report is handed in.")
    return redirect("show-report", work_id)


@require_POST
def query_mark(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    form = QueryForm(request.POST)
    if not form.is_valid():
        return render_report(request, access, work, query_form=form)
    try:
        reports.query_mark(actor=access.person, work=work, **form.cleaned_data)
    except ReportIsNotReleased:
        messages.error(request, "Marks can be queried once they are released.")
    else:
        messages.success(request, "Your question is with your TA.")
    return redirect("show-report", work_id)


@require_safe
def compare_plans(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """The own plan beside another, after release: the instructor's, one of its alternatives, or
    what was done."""
    access, work = get_work_for(current_person(request), work_id)
    snapshot = marked_snapshot(work)
    if moment_of(work) is not Moment.RELEASED or snapshot is None:
        messages.error(request, "Plans are laid side by side once the report is released.")
        return redirect("show-report", work_id)
    others = list(others_of(snapshot))
    chosen = next((o for o in others if o.key == request.GET.get("with")), others[0])
    context = {"access": access, "work": work, "others": others, "chosen": chosen}
    return render(request, "workups/reports/compare_plans.html", {
        **context, "beside": beside_another(snapshot, chosen)})


def others_of(snapshot: AssessmentSnapshot) -> Iterator[Another]:
    exercise = snapshot.exercise_to_core()
    yield Another("model", "the instructor's plan", exercise.model_plan)
    for n, plan in enumerate(exercise.alternatives, 1):
        yield Another(f"way-{n}", f"another way, {n}", plan)
    if steps_as_done(snapshot) is not None:
        yield Another("done", DONE, None)


def beside_another(snapshot: AssessmentSnapshot, other: Another) -> Beside | None:
    """None where the other plan cannot be carried out for this student's exercise."""
    steps = steps_of(snapshot, other)
    if steps is None:
        return None
    own = planned_side(snapshot)
    mine = Side("my plan", own.plan, own.reports, own.remarks)
    return schemes_beside(snapshot.exercise_to_core(), mine, Side(other.name, *steps, {}))


def steps_of(
    snapshot: AssessmentSnapshot, other: Another
) -> tuple[Plan, tuple[StepReport, ...]] | None:
    if other.plan is None:
        done = steps_as_done(snapshot)
        return (done.plan, done.reports) if done else None
    own = snapshot.own_exercise
    try:
        assessment = compute_assessment(
            revision=snapshot.revision, plan=other.plan, document=own.document if own else "")
    except CannotBeCarriedOut:
        return None
    return other.plan, assessment.steps
