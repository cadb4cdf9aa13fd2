from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from workups.documents import DocumentError
from workups.models import ExerciseRevision
from workups.selectors.exercises import assignment_lines, sections_without
from workups.services.drafts import revise
from workups.services.model_runs import ModelPlanFails, assess_model_of
from workups.web.access import current_person, get_revision_for
from workups.web.authoring.preview import preview_context
from workups.web.authoring.views import begin_try_out, file_response
from workups.web.requests import HtmxRequest


@require_safe
def show_exercise(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id)
    context = {
        "access": access,
        "revision": revision,
        "lines": assignment_lines(revision),
        "has_more_sections": sections_without(access.course, revision).exists(),
        **revision_preview(revision),
    }
    return render(request, "workups/authoring/show_exercise.html", context)


def revision_preview(revision: ExerciseRevision) -> dict[str, object]:
    """The model plan as computed, or why it cannot be."""
    try:
        return preview_context(revision.to_core(), assess_model_of(revision))
    except DocumentError as error:
        return {"stops": error.first_line}
    except ModelPlanFails as failure:
        return {"stops": str(failure)}


@require_safe
def download_exercise(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    _, revision = get_revision_for(current_person(request), revision_id)
    return file_response(revision.document, f"{revision.key}-{revision.number}.toml")


@require_POST
def revise_exercise(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id, to_change=True)
    draft = revise(actor=access.person, revision=revision)
    messages.info(
        request, "A draft of the next revision. What is published stays as it is until you publish."
    )
    if draft.document != revision.document:
        messages.warning(request, f"It was begun before; {draft.changed_by} changed it last.")
    return redirect("edit-draft", draft.public_id)


@require_POST
def try_exercise(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id, to_change=True)
    return begin_try_out(request, access, revision.key, revision.title, revision.document)
