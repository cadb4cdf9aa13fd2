"""The author form: a page for each part, saved as it is filled in, beside what the plan does."""

from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe
from django_htmx.http import HttpResponseClientRedirect, reswap, retarget, trigger_client_event

from workups.documents import DocumentError
from workups.documents.problems import exercise_problems
from workups.models import ExerciseDraft
from workups.web.access import CourseAccess, current_person, get_draft_for
from workups.web.authoring.form.context import part_context
from workups.web.authoring.form.live import live_model, panel_context
from workups.web.authoring.form.page import PartForm, groups_of, opened, texts_sent
from workups.web.authoring.form.parts import BY_SLUG, Part
from workups.web.authoring.form.progress import part_states
from workups.web.authoring.form.saving import RowAction, Saved, StalePart, data_of, save_part
from workups.web.requests import FORM_METHODS, HtmxRequest

CHANGED = "draft-changed"
CHECK, NEXT = "check", "next"
UNREADABLE = "The text of the exercise has to be mended before the form can show it."


@require_safe
def author_draft(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    """To the first part of the form that still needs something."""
    _, draft = get_draft_for(current_person(request), draft_id, to_change=True)
    states = part_states(exercise_problems(draft.document))
    waiting = next((s for s in states if not s.is_done), states[0])
    return redirect("edit-part", draft_id, waiting.part.slug)


@require_safe
def check_draft(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    """What the model plan does, computed anew: beside the form, or a page of its own."""
    access, draft = get_draft_for(current_person(request), draft_id)
    part = BY_SLUG.get(request.GET.get("part", ""))
    looked_at = {"access": access, "draft": draft, "part": part}
    context = looked_at | panel_context(live_model(draft.document))
    template = "_panel.html" if request.htmx else "check_draft.html"
    return render(request, f"workups/authoring/form/{template}", context)


@require_http_methods(FORM_METHODS)
def edit_part(request: HtmxRequest, draft_id: UUID, part: str) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id, to_change=True)
    page = BY_SLUG.get(part)
    if page is None or not page.blocks:
        raise Http404
    try:
        if request.method == "POST":
            return answer_part(request, access, draft, page)
        return render_part(request, part_context(access, draft, page))
    except DocumentError:
        messages.error(request, UNREADABLE)
        url = reverse("edit-draft", args=[draft_id])
        return HttpResponseClientRedirect(url) if request.htmx else redirect(url)


def render_part(request: HtmxRequest, context: dict[str, Any]) -> HttpResponse:
    if CHECK in request.GET:
        context |= panel_context(live_model(context["draft"].document))
    template = "_part.html" if request.htmx else "edit_part.html"
    return render(request, f"workups/authoring/form/{template}", context)


def answer_part(
    request: HtmxRequest, access: CourseAccess, draft: ExerciseDraft, part: Part
) -> HttpResponse:
    try:
        saved = save_part(actor=access.person, draft=draft, part=part, sent=request.POST)
    except StalePart as stale:
        return render_unsaved(request, access, stale.current, part, {"stale": stale.current})
    except ValidationError as error:
        return render_unsaved(request, access, draft, part, {"refused": error.messages})
    if not request.htmx:
        return redirect(place_after(saved, part, request.POST.get("do", "")))
    if saved.action is not None or saved.anchor:
        context = part_context(access, saved.draft, part)
        if saved.action is not None:
            focus_on(context["form"], saved.action)
        elif saved.anchor.removeprefix("f-") in context["form"].fields:
            field = context["form"].fields[saved.anchor.removeprefix("f-")]
            field.widget.attrs["autofocus"] = True
        answer = render(request, "workups/authoring/form/_part.html", context)
    else:
        context = part_context(access, saved.draft, part, typed(request, saved.draft, part))
        answer = render(request, "workups/authoring/form/_saved.html", context)
    return trigger_client_event(answer, CHANGED) if saved.is_changed else answer


def typed(request: HtmxRequest, draft: ExerciseDraft, part: Part) -> dict[str, Any]:
    """What the page was sent with, for the fields that the part has now."""
    data = opened(part, data_of(draft))
    asked = [a for group in groups_of(part, data) for a in group.all_fields]
    return texts_sent(asked, request.POST, data)


def render_unsaved(
    request: HtmxRequest,
    access: CourseAccess,
    draft: ExerciseDraft,
    part: Part,
    why: dict[str, Any],
) -> HttpResponse:
    """The page with everything that was typed, and why it is not saved."""
    context = part_context(access, draft, part, typed(request, draft, part)) | why
    answer = render_part(request, context)
    return reswap(retarget(answer, "#part"), "outerHTML") if request.htmx else answer


def place_after(saved: Saved, part: Part, do: str) -> str:
    draft_id = saved.draft.public_id
    url = reverse("edit-part", args=[draft_id, part.slug])
    if do == CHECK:
        return f"{url}?{urlencode({CHECK: 'yes'})}#panel"
    if do.startswith(f"{NEXT}:") and do.removeprefix(f"{NEXT}:") in BY_SLUG:
        return reverse("edit-part", args=[draft_id, do.removeprefix(f"{NEXT}:")])
    anchor = saved.action.anchor if saved.action else saved.anchor
    return f"{url}#{anchor}" if anchor else url


def focus_on(form: PartForm, at: RowAction) -> None:
    """The cursor goes to the first field of a row that was just added."""
    for name, asked in form.asked.items():
        if at.verb == "add" and asked.path[: len(at.path) + 1] == (*at.path, at.number):
            form.fields[name].widget.attrs["autofocus"] = True
            return
