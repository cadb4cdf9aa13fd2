from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from workups.models import DraftState
from workups.services.drafts import StaleDraft, restore_draft
from workups.web.access import current_person, get_draft_for
from workups.web.authoring.form.parts import BY_SLUG
from workups.web.requests import HtmxRequest


class RestoreForm(forms.Form):
    """Where to go back to, what the page was showing, and the part to return to."""

    to_version = forms.IntegerField(min_value=1, max_value=2**31 - 1)
    version = forms.IntegerField(min_value=1, max_value=2**31 - 1)
    part = forms.CharField(required=False, max_length=60)


@require_safe
def show_draft_history(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id)
    states = draft.states.select_related("saved_by").defer("document")
    context = {"access": access, "draft": draft, "states": states}
    return render(request, "workups/authoring/show_draft_history.html", context)


@require_POST
def return_to_state(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id, to_change=True)
    form = RestoreForm(request.POST)
    if not form.is_valid():
        messages.error(request, "That could not be read. The draft is as it was.")
        return redirect("show-draft-history", draft_id)
    given = form.cleaned_data
    try:
        restore_draft(
            actor=access.person,
            draft=draft,
            to_version=given["to_version"],
            base_version=given["version"],
        )
    except DraftState.DoesNotExist:
        messages.error(request, "That state is not kept any more. The draft is as it was.")
    except StaleDraft as stale:
        messages.warning(
            request,
            f"{stale.current.changed_by} changed the draft meanwhile; it is as they left it.",
        )
    else:
        messages.success(request, "Gone back. What was there before is in the history.")
    part = BY_SLUG.get(given["part"])
    if part is None:
        return redirect("author-draft", draft_id)
    return redirect("edit-part", draft_id, part.slug)
