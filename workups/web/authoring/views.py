from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.documents import DocumentError
from workups.documents.blank import BLANK_EXERCISE
from workups.models import DraftState, ExerciseDraft, ExerciseRevision
from workups.selectors.exercises import assignment_lines, drafts_of, revisions_of, sections_without
from workups.services import drafts, try_outs
from workups.services.drafts import StaleDraft, read_draft, restore_draft, revise
from workups.services.publishing import (
    ModelPlanFails,
    assess_model,
    assess_model_of,
    failing_checks,
)
from workups.web.access import (
    INSTRUCTOR,
    CourseAccess,
    current_person,
    get_course_for,
    get_draft_for,
    get_revision_for,
)
from workups.web.authoring.form.parts import BY_SLUG
from workups.web.authoring.forms import AddExerciseForm, DraftForm
from workups.web.authoring.preview import preview_context
from workups.web.fields import VersionField
from workups.web.requests import FORM_METHODS, HtmxRequest, sent_data, sent_files


@require_safe
def list_exercises(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, INSTRUCTOR)
    revisions = revisions_of(access.course).prefetch_related("assignments__section")
    context = {
        "access": access,
        "revisions": revisions.filter(archived_at__isnull=True),
        "put_away": revisions.filter(archived_at__isnull=False),
        "drafts": drafts_of(access.course),
    }
    return render(request, "workups/authoring/list_exercises.html", context)


@require_http_methods(FORM_METHODS)
def add_exercise(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, INSTRUCTOR, to_change=True)
    form = AddExerciseForm(sent_data(request), sent_files(request))
    if request.method == "POST" and "blank" in request.POST:
        draft = drafts.start_draft(
            actor=access.person, course=access.course, document=BLANK_EXERCISE
        )
        return redirect("author-draft", draft.public_id)
    if request.method == "POST" and form.is_valid():
        draft = drafts.start_draft(
            actor=access.person, course=access.course, document=form.cleaned_data["document"]
        )
        return redirect_to(draft)
    context = {"access": access, "form": form}
    return render(request, "workups/authoring/add_exercise.html", context)


def redirect_to(draft: ExerciseDraft) -> HttpResponse:
    """To the preview, or to the text where something in it has to be mended first."""
    _, error = read_draft(draft)
    return redirect("edit-draft" if error else "preview-draft", draft.public_id)


@require_http_methods(FORM_METHODS)
def edit_draft(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id, to_change=True)
    initial = {"document": draft.document, "version": draft.version}
    form = DraftForm(sent_data(request), initial=initial)
    was_closed = draft.closed_at is not None
    if request.method != "POST" or not form.is_valid():
        return render_text(request, access, draft, form)
    try:
        saved = drafts.save_draft(
            actor=access.person,
            draft=draft,
            document=form.cleaned_data["document"].replace("\r\n", "\n"),
            base_version=form.cleaned_data["version"],
        )
    except StaleDraft as stale:
        return render_stale(request, access, form, stale.current)
    if was_closed:
        messages.info(
            request,
            "It was published or thrown away meanwhile. With your text it is a draft again.",
        )
    if read_draft(saved)[1] is None:
        messages.success(request, "The text is saved and can be read.")
    return redirect_to(saved)


def render_text(
    request: HtmxRequest,
    access: CourseAccess,
    draft: ExerciseDraft,
    form: DraftForm,
    theirs: ExerciseDraft | None = None,
) -> HttpResponse:
    problems = () if form.is_bound else problems_of(draft)
    context = {
        "access": access,
        "draft": draft,
        "form": form,
        "problems": problems,
        "theirs": theirs,
    }
    return render(request, "workups/authoring/edit_draft.html", context)


def problems_of(draft: ExerciseDraft) -> tuple[object, ...]:
    _, error = read_draft(draft)
    return error.problems if error else ()


def render_stale(
    request: HtmxRequest, access: CourseAccess, form: DraftForm, current: ExerciseDraft
) -> HttpResponse:
    """Nothing is overwritten unasked: the own text stays, theirs is shown, saving again decides."""
    form.add_error(
        None,
        f"{current.changed_by} saved another text meanwhile. Yours is below, theirs under it: "
        "save again to put yours in its place.",
    )
    form.data = {name: form.data[name] for name in form.fields} | {"version": current.version}
    return render_text(request, access, current, form, theirs=current)


@require_safe
def preview_draft(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id)
    context = {"access": access, "draft": draft, "problems": problems_of(draft)}
    if not context["problems"]:
        context |= draft_preview(draft)
    return render(request, "workups/authoring/preview_draft.html", context)


def draft_preview(draft: ExerciseDraft) -> dict[str, object]:
    exercise, _ = read_draft(draft)
    assert exercise is not None
    try:
        assessment = assess_model(document=draft.document)
    except ModelPlanFails as failure:
        return {"stops": str(failure), "exercise": exercise}
    return {**preview_context(exercise, assessment), "fails": failing_checks(assessment)}


@require_safe
def download_draft(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    _, draft = get_draft_for(current_person(request), draft_id)
    return file_response(draft.document, "exercise-draft.toml")


def file_response(text: str, name: str) -> HttpResponse:
    return HttpResponse(
        text,
        content_type="application/toml; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@require_POST
def discard_draft(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id, to_change=True)
    drafts.discard_draft(actor=access.person, draft=draft)
    messages.success(request, f"The draft “{draft.title}” is thrown away.")
    return redirect("list-exercises", access.course.public_id)


@require_POST
def try_draft(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id, to_change=True)
    exercise, error = read_draft(draft)
    if exercise is None or error is not None:
        messages.error(request, "The text has to be mended before a student can read it.")
        return redirect("edit-draft", draft_id)
    return begin_try_out(request, access, exercise.key, draft.title, draft.document)


def begin_try_out(
    request: HtmxRequest, access: CourseAccess, key: str, title: str, document: str
) -> HttpResponse:
    try:
        work = try_outs.try_exercise(
            actor=access.person, course=access.course, key=key, title=title, document=document
        )
    except DocumentError as error:
        messages.error(request, f"This exercise cannot be read any more: {error.first_line}")
        return redirect("list-exercises", access.course.public_id)
    messages.info(
        request,
        "This is your own try-out: you are its only student, and nobody marks it. "
        f"Back to the exercise through {access.course.title}, {access.course.term}.",
    )
    return redirect("show-work", work.public_id)


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


class RestoreForm(forms.Form):
    """Where to go back to, what the page was showing, and the part to return to."""

    to_version = VersionField(min_value=1)
    version = VersionField(min_value=1)
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
