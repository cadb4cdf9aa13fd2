"""A student's plan in the editor, and what a self-check and the scheme say beside it."""

from dataclasses import replace
from typing import Any

from django.http import HttpResponse
from django.urls import reverse

from workups.chemistry.plan import STEP_KINDS, FieldKind, field_specs
from workups.documents import plan_from_data
from workups.exercise.exercise import Exercise, FeedbackPolicy
from workups.grading.assessment import Assessment
from workups.grading.visibility import Moment, shown_steps
from workups.models import PlanRevision, SelfCheck, Work
from workups.selectors.plans import (
    PlanLine,
    current_plan,
    earlier_plans,
    find_plan,
    plan_problems,
    submitted_plan,
    undo_of,
)
from workups.selectors.self_checks import (
    checks_of,
    draws_scheme,
    last_self_check,
    policy_of,
    remarks_of,
)
from workups.selectors.student_findings import findings_by_step
from workups.selectors.works import dates_of
from workups.services import planning
from workups.services.plan_edits import PlanData, PlanEdit, StepData, new_step_id, steps_of
from workups.services.planning import EMPTY_PLAN, PlanIsAtTheBench, PlanIsTooLarge, StalePlan
from workups.services.self_checks import shown_of
from workups.sheets.scheme import scheme_figure
from workups.sheets.svg import Figure
from workups.web.access import CourseAccess
from workups.web.plan_editor import Editor, NotSaved
from workups.web.requests import HtmxRequest
from workups.web.step_forms import material_choices

AT_THE_BENCH = "The plan is at the bench now and stays as it is. Record changes there."


class StudentPlan(Editor):
    """A student's plan: every state is kept, and what two tabs said differently stands side by
    side for them to choose from."""

    page = "workups/planning/build_plan.html"
    fragment = "workups/planning/_plan.html"
    beside = ("workups/planning/_plan_actions.html", "workups/planning/_plan_scheme.html")
    status = "workups/planning/_plan_status.html"

    def __init__(self, access: CourseAccess, work: Work) -> None:
        super().__init__(access, work.to_core())
        self.work = work
        self.plan = current_plan(work)

    @property
    def data(self) -> PlanData:
        return self.plan.data if self.plan else EMPTY_PLAN

    @property
    def version(self) -> int:
        return self.plan.version if self.plan else 0

    @property
    def address(self) -> str:
        return reverse("build-plan", args=[self.work.public_id])

    @property
    def can_change(self) -> bool:
        return super().can_change and self.work.bench_record_id is None

    def new_id(self, verb: str, version: int) -> str:
        shown = find_plan(self.work, version)
        return new_step_id(shown.data if shown else EMPTY_PLAN if version == 0 else self.data)

    def save(self, request: HtmxRequest, edit: PlanEdit, version: int) -> None:
        actor, work = self.access.person, self.work
        try:
            self.plan = planning.edit_plan(actor=actor, work=work, base_version=version, edit=edit)
        except StalePlan as stale:
            raise NotSaved(self.choose(request, stale)) from None
        except PlanIsAtTheBench:
            raise self.refused(request, AT_THE_BENCH) from None
        except PlanIsTooLarge as problem:
            raise self.refused(request, f"{problem} This change is not saved.") from None

    def choose(self, request: HtmxRequest, stale: StalePlan) -> HttpResponse:
        args = [self.work.public_id, stale.aside.version]
        return self.moved(request, reverse("choose-draft", args=args))

    def context(self, lines: list[PlanLine]) -> dict[str, Any]:
        work, plan = self.work, self.plan
        checked = last_self_check(work)
        said = shown_of(checked, work) if checked else None
        remarks = remarks_of(checks_of(checked, said)) if checked else []
        notes = findings_by_step(remark.found for remark in remarks)
        is_of_this = checked is not None and plan is not None and (
            checked.plan_revision.data == plan.data)
        return {
            "work": work,
            "plan": plan,
            "lines": [replace(line, findings=tuple(notes.get(line.id, ()))) for line in lines],
            "is_frozen": work.bench_record_id is not None,
            "undo": undo_of(plan) if plan else None,
            "earlier_plans": [] if lines or not self.can_change else earlier_plans(work),
            "too_much": problems_of_the_whole(plan, self.exercise),
            "submitted": submitted_plan(work),
            "policy": policy_of(work),
            "looks": draws_scheme(work) and policy_of(work).shows_shares,
            "checked": checked,
            "changed_since_check": checked is not None
            and plan is not None
            and not is_of_this,
            "dates": dates_of(work),
            "scheme": plan_scheme(
                work, plan, pictured(checked, said) if checked and is_of_this else None),
        }


def pictured(checked: SelfCheck, said: Assessment | None) -> Assessment | None:
    """What a self-check said, if its policy lets it be drawn."""
    return said if FeedbackPolicy(detail=checked.detail).shows_shares else None


def plan_scheme(
    work: Work, plan: PlanRevision | None, computed: Assessment | None
) -> Figure | None:
    """The scheme of the plan as far as it is filled in: what its steps say, and with shares where
    this very plan was ``computed`` and they may be shown."""
    steps = plan.data["steps"] if plan else []
    gap = next((i for i, step in enumerate(steps) if "typed" in step), len(steps))
    if not gap or not draws_scheme(work):
        return None
    return scheme_figure(
        work.to_core(),
        plan_from_data(steps[:gap]),
        shown_steps(computed, Moment.PLANNING) if computed else (),
        shares_only=True,
        link=lambda step: f"#step-{step.id}",
    )


def problems_of_the_whole(plan: PlanRevision | None, exercise: Exercise) -> list[str]:
    """What is wrong with no step alone: more steps or portions than a plan may have."""
    found = plan_problems(plan.data["steps"], exercise) if plan else []
    return [problem.message for problem in found if not problem.step_id]


def fitted_to(data: PlanData, exercise: Exercise) -> PlanData:
    """A plan for another exercise, with what this one has not taken out of it."""
    return {"steps": [_fitted(step, exercise) for step in steps_of(data)]}


def _fitted(step: StepData, exercise: Exercise) -> StepData:
    values = dict(step.get("typed", step))
    strange = [
        name
        for name, spec in field_specs(STEP_KINDS[step["verb"]]).items()
        if spec.kind is FieldKind.MATERIAL
        and values.get(name)
        and values[name] not in dict(material_choices(spec, exercise))
    ]
    if not strange:
        return step
    typed = {name: said for name, said in values.items() if name not in (*strange, "id", "verb")}
    return {"id": step["id"], "verb": step["verb"], "typed": typed}


def plan_is_sound(work: Work) -> bool:
    """Whether the plan can be carried out as written: every step filled in, no problem."""
    plan = current_plan(work)
    if plan is None or not plan.is_complete:
        return False
    return not plan_problems(plan.data["steps"], work.to_core())
