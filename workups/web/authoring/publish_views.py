from collections.abc import Iterable
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from workups.exercise.exercise import CHECK_TITLES, Exercise
from workups.explanation.plausible import doubts
from workups.grading.assessment import Assessment
from workups.models import Course, ExerciseDraft, ExerciseRevision, Extension, Section
from workups.selectors.exercises import earlier_assignments, sections_without, with_other_sections
from workups.services import exercises
from workups.services.drafts import StaleDraft, read_draft
from workups.services.exercises import change_terms
from workups.services.publishing import (
    ModelPlanFails,
    assess_model,
    failing_checks,
    give_to_sections,
    publish_draft,
)
from workups.web.access import (
    INSTRUCTOR,
    current_person,
    get_assignment_for,
    get_draft_for,
    get_revision_for,
)
from workups.web.authoring.forms import (
    DatesForm,
    ExtensionForm,
    GuardForm,
    PolicyForm,
    SectionDatesForm,
    StoredDatesForm,
    chosen_sections,
    suggested_dates,
    terms_of,
)
from workups.web.optimistic_lock import locked_if_sent
from workups.web.requests import FORM_METHODS, HtmxRequest, sent_data


class PublishForms:
    """The forms of the publishing page: policy, dates by section, and the guard if it is needed."""

    def __init__(
        self,
        data: QueryDict | None,
        exercise: Exercise,
        course: Course,
        sections: Iterable[Section],
        *,
        guarded: bool = False,
    ) -> None:
        rows = list(sections)
        earlier = earlier_assignments(course, exercise.key, rows)
        dates = suggested_dates()
        self.policy = PolicyForm(data, own_detail=exercise.policy.detail)
        self.guard = GuardForm(data) if guarded else None
        self.sections = [
            SectionDatesForm(data, section=s, earlier=earlier.get(s.pk), initial=dates)
            for s in rows
        ]

    def are_valid(self) -> bool:
        """Every form is cleaned, so that all mistakes are shown at once."""
        forms = [self.policy, *self.sections, *([self.guard] if self.guard else [])]
        return not [form for form in forms if not form.is_valid()]

    @property
    def reason(self) -> str:
        return self.guard.cleaned_data["guard_reason"] if self.guard else ""


@require_http_methods(FORM_METHODS)
def publish_exercise(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id, to_change=True)
    exercise, _ = read_draft(draft)
    assessment = assessment_of(draft) if exercise is not None else None
    if exercise is None or assessment is None:
        messages.error(request, "The text has to be mended before it can be published.")
        return redirect("preview-draft", draft_id)
    fails = failing_checks(assessment)
    forms = PublishForms(
        sent_data(request),
        exercise,
        access.course,
        access.course.sections.all(),
        guarded=bool(fails),
    )
    if request.method == "POST" and forms.are_valid():
        to = chosen_sections(forms.sections, forms.policy)
        try:
            revision = publish_draft(
                actor=access.person, draft=draft, to=to, guard_reason=forms.reason
            )
        except StaleDraft as stale:
            messages.error(
                request,
                f"{stale.current.changed_by} saved another text just now; nothing is published. "
                "Look at it, then publish.",
            )
            return redirect("preview-draft", draft_id)
        messages.success(request, published_words(revision, len(to)))
        return redirect("show-exercise", revision.public_id)
    context = {
        "access": access,
        "draft": draft,
        "doubts": doubts(exercise),
        "fails": [CHECK_TITLES[check.name] for check in fails],
        "forms": forms,
        "time_zone": timezone.get_current_timezone_name(),
    }
    return render(request, "workups/authoring/publish_exercise.html", context)


def assessment_of(draft: ExerciseDraft) -> Assessment | None:
    try:
        return assess_model(document=draft.document)
    except ModelPlanFails:
        return None


def published_words(revision: ExerciseRevision, count: int) -> str:
    if not count:
        return f"{revision} is published. No section has it yet."
    sections = "one section" if count == 1 else f"{count} sections"
    return f"{revision} is published for {sections}."


@require_http_methods(FORM_METHODS)
def assign_exercise(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id, to_change=True)
    sections = sections_without(access.course, revision)
    forms = PublishForms(sent_data(request), revision.to_core(), access.course, sections)
    if request.method == "POST" and forms.are_valid():
        to = chosen_sections(forms.sections, forms.policy)
        if to:
            give_to_sections(actor=access.person, revision=revision, to=to)
            names = ", ".join(given.section.name for given in to)
            messages.success(request, f"{revision} is given to {names}.")
            return redirect("show-exercise", revision_id)
        forms.policy.add_error(None, "Choose at least one section.")
    context = {"access": access, "revision": revision, "forms": forms}
    return render(request, "workups/authoring/assign_exercise.html", context)


@require_http_methods(FORM_METHODS)
def edit_assignment(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    access, assignment = get_assignment_for(
        current_person(request), assignment_id, INSTRUCTOR, to_change=True
    )
    with locked_if_sent(request, *with_other_sections(assignment)):
        own = assignment.revision.to_core().policy.detail
        now = {name: getattr(assignment, name) for name in (*DatesForm.base_fields, *POLICY_FIELDS)}
        dates = StoredDatesForm(sent_data(request), initial=now)
        policy = PolicyForm(sent_data(request), own_detail=own, initial=now)
        if request.method == "POST" and all([dates.is_valid(), policy.is_valid()]):
            change_terms(actor=access.person, assignment=assignment, terms=terms_of(dates, policy))
            messages.success(request, f"The dates of {assignment.section} are saved.")
            return redirect("show-exercise", assignment.revision.public_id)
    context = {"access": access, "assignment": assignment, "dates": dates, "policy": policy}
    return render(request, "workups/authoring/edit_assignment.html", context)


POLICY_FIELDS = tuple(PolicyForm.base_fields)


@require_http_methods(FORM_METHODS)
def give_extension(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    access, assignment = get_assignment_for(
        current_person(request), assignment_id, INSTRUCTOR, to_change=True
    )
    form = ExtensionForm(sent_data(request), assignment=assignment)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        exercises.give_extension(
            actor=access.person,
            assignment=assignment,
            enrolment=given["student"],
            reason=given["reason"],
            plan_due=given["plan_due"],
            report_due=given["report_due"],
        )
        messages.success(request, f"{given['student'].person} has later dates.")
        return redirect("give-extension", assignment_id)
    extensions = Extension.objects.filter(assignment=assignment).select_related(
        "enrolment__person", "given_by"
    )
    context = {
        "access": access,
        "assignment": assignment,
        "form": form,
        "extensions": extensions,
    }
    return render(request, "workups/authoring/give_extension.html", context)
