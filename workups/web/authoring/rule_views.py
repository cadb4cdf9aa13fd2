from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from workups.documents import DocumentError
from workups.exercise.exercise import Exercise
from workups.explanation.values_used import values_used
from workups.explanation.worked import worked_chapters
from workups.selectors.limits import limit_lines
from workups.selectors.method import find_rule, method_chapters, rule_groups
from workups.services.computing import CannotBeCarriedOut, computing
from workups.services.drafts import read_draft
from workups.web.access import (
    TEACHING,
    CourseAccess,
    current_person,
    get_draft_for,
    get_revision_for,
)
from workups.web.requests import HtmxRequest


@require_safe
def list_rules(request: HtmxRequest) -> HttpResponse:
    return render(request, "workups/authoring/list_rules.html", {"groups": rule_groups()})


@require_safe
def show_rule(request: HtmxRequest, code: str) -> HttpResponse:
    found = find_rule(code)
    if found is None:
        raise Http404
    return render(request, "workups/authoring/show_rule.html", {"rule": found})


@require_safe
def show_method(request: HtmxRequest) -> HttpResponse:
    context = {"chapters": method_chapters()}
    return render(request, "workups/authoring/show_method.html", context)


@require_safe
def show_limits(request: HtmxRequest) -> HttpResponse:
    return render(request, "workups/authoring/show_limits.html", {"lines": limit_lines()})


@require_safe
def show_exercise_method(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id, TEACHING)
    try:
        exercise = revision.to_core()
    except DocumentError as error:
        messages.error(request, f"This exercise cannot be read any more: {error.first_line}")
        return redirect("show-course", access.course.public_id)
    return render_method(request, access, exercise, str(revision))


@require_safe
def show_draft_method(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id)
    exercise, _ = read_draft(draft)
    if exercise is None:
        messages.error(request, "The exercise has to be mended before its numbers can be worked.")
        return redirect("preview-draft", draft_id)
    return render_method(request, access, exercise, f"{draft.title}, draft")


def render_method(
    request: HtmxRequest, access: CourseAccess, exercise: Exercise, name: str
) -> HttpResponse:
    context = {"access": access, "name": name, "values": values_used(exercise)}
    try:
        with computing(f"the worked numbers of {exercise.key}", for_author=True):
            context["chapters"] = worked_chapters(exercise)
    except CannotBeCarriedOut as problem:
        context["stops"] = problem.for_author
    return render(request, "workups/authoring/show_worked.html", context)
