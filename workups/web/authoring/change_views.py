"""Revisions side by side, copies, putting away, and moving students from one to the other."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.documents.differences import by_topic, differences
from workups.models import Assignment, ExerciseRevision, RevisionMove, Work
from workups.selectors.progress import current_works
from workups.services import drafts, moving
from workups.services.drafts import read_draft
from workups.services.exercises import set_exercise_archived
from workups.services.moving import MarkChange, MarksAreReleased, MovedOn, RecordIsShared
from workups.web.access import (
    INSTRUCTOR,
    current_person,
    get_assignment_for,
    get_draft_for,
    get_revision_for,
)
from workups.web.requests import FORM_METHODS, HtmxRequest, sent_data
from workups.words.numbers import joined


@require_safe
def compare_revisions(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    """What a revision changes against an earlier one; the one just before it if none is named."""
    access, revision = get_revision_for(current_person(request), revision_id)
    others = ExerciseRevision.objects.filter(
        course=revision.course, key=revision.key
    ).exclude(pk=revision.pk)
    form = OtherRevisionForm(request.GET or None, others=list(others.order_by("-number")))
    other = form.chosen() or others.filter(number__lt=revision.number).first() or others.first()
    context = {
        "access": access,
        "revision": revision,
        "other": other,
        "form": form,
        "topics": by_topic(differences(other.to_core(), revision.to_core())) if other else [],
    }
    return render(request, "workups/authoring/compare_revisions.html", context)


class OtherRevisionForm(forms.Form):
    against = forms.TypedChoiceField(label="Against", coerce=int)

    def __init__(self, *args: Any, others: list[ExerciseRevision], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.others = {other.number: other for other in others}
        field = self.fields["against"]
        assert isinstance(field, forms.TypedChoiceField)
        field.choices = [(number, f"revision {number}") for number in self.others]

    def chosen(self) -> ExerciseRevision | None:
        return self.others.get(self.cleaned_data["against"]) if self.is_valid() else None


@require_safe
def compare_draft(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    """What publishing a draft would change against the revision it began as."""
    access, draft = get_draft_for(current_person(request), draft_id)
    exercise, error = read_draft(draft)
    topics = []
    if exercise is not None and draft.base is not None:
        topics = by_topic(differences(draft.base.to_core(), exercise))
    context = {"access": access, "draft": draft, "topics": topics, "error": error}
    return render(request, "workups/authoring/compare_draft.html", context)


@require_POST
def duplicate_exercise(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id, to_change=True)
    draft = drafts.duplicate_exercise(
        actor=access.person, course=access.course, document=revision.document
    )
    messages.success(request, "A copy, as a draft of another exercise with its own key and title.")
    return redirect("edit-draft", draft.public_id)


@require_POST
def archive_exercise(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    return _put_away(request, revision_id, archived=True)


@require_POST
def reopen_exercise(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    return _put_away(request, revision_id, archived=False)


def _put_away(request: HtmxRequest, revision_id: UUID, *, archived: bool) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id, to_change=True)
    set_exercise_archived(actor=access.person, revision=revision, archived=archived)
    words = "is put away; its sections keep it" if archived else "is back among the exercises"
    messages.success(request, f"“{revision.title}” {words}.")
    return redirect("list-exercises", access.course.public_id)


class MoveForm(forms.Form):
    """Who moves, to which revision, and why."""

    to = forms.TypedChoiceField(label="To", coerce=int)
    works = forms.ModelMultipleChoiceField(
        Work.objects.none(),
        to_field_name="public_id",
        label="Students",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one student."},
    )
    reason = forms.CharField(
        max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, assignment: Assignment, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = ExerciseRevision.objects.filter(
            course_id=assignment.revision.course_id, key=assignment.revision.key
        ).exclude(pk=assignment.revision_id)
        self.revisions = {r.number: r for r in others.order_by("-number")}
        to, works = self.fields["to"], self.fields["works"]
        assert isinstance(to, forms.TypedChoiceField)
        assert isinstance(works, forms.ModelMultipleChoiceField)
        to.choices = [(number, f"revision {number}") for number in self.revisions]
        works.queryset = (
            current_works([assignment.pk])
            .select_related("enrolment__person", "bench_record", "variant")
            .order_by("enrolment__person__display_name")
        )
        named = lambda work: str(work.student) + _released_words(work)  # noqa: E731
        works.label_from_instance = named  # type: ignore[method-assign]

    def revision(self) -> ExerciseRevision:
        return self.revisions[self.cleaned_data["to"]]


def _released_words(work: Work) -> str:
    return " (marks are released: stays)" if moving.marks_are_released(work) else ""


@require_http_methods(FORM_METHODS)
def move_students(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    """First a look at what would change in the marks, then the move; each asked for on its own."""
    _, assignment = get_assignment_for(
        current_person(request), assignment_id, INSTRUCTOR, to_change=True
    )
    form = MoveForm(sent_data(request), assignment=assignment)
    changes: list[MarkChange] = []
    if request.method == "POST" and form.is_valid():
        works = list(form.cleaned_data["works"])
        if "move" not in request.POST:
            changes = [moving.what_would_change(work, form.revision()) for work in works]
        elif not form.cleaned_data["reason"].strip():
            form.add_error("reason", "Say why: it is kept with the move.")
            changes = [moving.what_would_change(work, form.revision()) for work in works]
        else:
            return _move(request, form, assignment, works)
    return _render_move(request, form, assignment, changes)


def _render_move(
    request: HtmxRequest, form: MoveForm, assignment: Assignment, changes: list[MarkChange]
) -> HttpResponse:
    access, _ = get_assignment_for(current_person(request), assignment.public_id, INSTRUCTOR)
    revision = form.revision() if changes else None
    topics = []
    if revision is not None:
        topics = by_topic(differences(assignment.revision.to_core(), revision.to_core()))
    moves = RevisionMove.objects.filter(before__section=assignment.section).filter(
        before__revision__key=assignment.revision.key
    )
    context = {
        "access": access,
        "assignment": assignment,
        "form": form,
        "changes": changes,
        "revision": revision,
        "topics": topics,
        "moves": moves.select_related(
            "work__enrolment__person", "before__revision", "after__revision", "by"
        ),
    }
    return render(request, "workups/authoring/move_students.html", context)


def _move(
    request: HtmxRequest, form: MoveForm, assignment: Assignment, works: list[Work]
) -> HttpResponse:
    try:
        moving.move_students(
            actor=current_person(request),
            assignment=assignment,
            revision=form.revision(),
            works=works,
            reason=form.cleaned_data["reason"].strip(),
        )
    except MarksAreReleased:
        form.add_error("works", "Somebody's marks are released: they stay where they are.")
    except RecordIsShared:
        form.add_error("works", "Partners with one bench record move together: choose both.")
    else:
        count = "One student is" if len(works) == 1 else f"{len(works)} students are"
        messages.success(request, f"{count} moved to revision {form.revision().number}.")
        return redirect("move-students", assignment.public_id)
    return _render_move(request, form, assignment, [])


@require_POST
def take_back_move(request: HtmxRequest, move_id: UUID) -> HttpResponse:
    person = current_person(request)
    move = get_object_or_404(RevisionMove, public_id=move_id)
    access, assignment = get_assignment_for(
        person, move.before.public_id, INSTRUCTOR, to_change=True
    )
    if move.taken_back_at is not None:
        raise PermissionDenied("This move is taken back already.")
    try:
        works = moving.take_back_move(actor=access.person, move=move)
        names = joined([str(work.student) for work in works])
        are = "is" if len(works) == 1 else "are"
        messages.success(request, f"{names} {are} back at revision {move.before.revision.number}.")
    except MarksAreReleased:
        messages.error(request, "The marks are released: the move stays.")
    except RecordIsShared:
        messages.error(request, "Partners with one bench record have to be in one revision.")
    except MovedOn:
        messages.error(request, "A later move has to be taken back first.")
    return redirect("move-students", assignment.public_id)
