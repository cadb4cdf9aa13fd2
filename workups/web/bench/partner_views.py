"""Partners who share a record, and who part: one was absent, or works with somebody else now."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from workups.models import ShareRequest, Work
from workups.selectors.plans import submitted_plan
from workups.selectors.works import partners_of, shares_asked_of
from workups.services import bench as bench_services
from workups.services.bench import (
    AlreadyAnswered,
    ExercisesDiffer,
    NoSuchPartner,
    RecordIsFull,
    RecordIsLocked,
    RecordIsNotShared,
    TooManyCodes,
    ask_to_share,
)
from workups.services.bench import answer_share as answer_share_service
from workups.web.access import (
    CourseAccess,
    current_person,
    get_record_for,
    get_work_for,
    get_work_to_review,
)
from workups.web.bench.views import JoinBenchForm, render_before_bench
from workups.web.requests import FORM_METHODS, HtmxRequest, sent_data

NOT_SHARED: dict[type[Exception], str] = {
    NoSuchPartner: "No partner of your section has begun a record with this code.",
    TooManyCodes: "You have tried too many codes. Wait an hour, or ask your TA.",
    RecordIsFull: "That record has as many owners as this exercise allows.",
    ExercisesDiffer: "That record is for other amounts. Ask your TA.",
    RecordIsLocked: "That record is locked already.",
}


class AnswerShareForm(forms.Form):
    """Which request, and whether the student is let in."""

    asked = forms.ModelChoiceField(ShareRequest.objects.none(), to_field_name="public_id")
    grant = forms.TypedChoiceField(
        choices=[("yes", "yes"), ("no", "no")], coerce=lambda value: value == "yes"
    )

    def __init__(self, data: Any, *, asked: QuerySet[ShareRequest]) -> None:
        super().__init__(data)
        self.fields["asked"].queryset = asked  # type: ignore[attr-defined]


class LeaveBenchForm(forms.Form):
    reason = forms.CharField(
        label="Why", max_length=300, help_text="For example: absent, works with another partner."
    )


@require_POST
def join_bench(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """Ask to share the record that a partner's code names."""
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    if submitted_plan(work) is None:
        messages.error(request, "Hand in your own plan first: plans are each student's own.")
        return redirect("show-bench", work_id)
    form = JoinBenchForm(request.POST)
    if not form.is_valid():
        return render_before_bench(request, access, work, form)
    try:
        ask_to_share(actor=access.person, work=work, code=form.cleaned_data["code"])
    except tuple(NOT_SHARED) as refused:
        form.add_error("code", NOT_SHARED[type(refused)])
        return render_before_bench(request, access, work, form)
    messages.success(request, "Your partner is asked: they let you in from their bench page.")
    return redirect("show-bench", work_id)


@require_POST
def answer_share(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """An owner of the record lets somebody in, or does not."""
    access, _, record = get_record_for(current_person(request), work_id, to_change=True)
    form = AnswerShareForm(request.POST, asked=shares_asked_of(record))
    if not form.is_valid():
        messages.warning(request, "That question is answered, or was taken back.")
        return redirect("show-bench", work_id)
    asked, grant = form.cleaned_data["asked"], form.cleaned_data["grant"]
    try:
        answer_share_service(actor=access.person, asked=asked, grant=grant)
    except AlreadyAnswered:
        messages.warning(request, "That question is answered, or was taken back.")
    except (RecordIsFull, ExercisesDiffer, RecordIsLocked) as refused:
        messages.error(request, NOT_SHARED[type(refused)])
    else:
        student = asked.work.student
        said = f"{student} shares the record now." if grant else f"{student} was not let in."
        messages.success(request, said)
    return redirect("show-bench", work_id)


@require_http_methods(FORM_METHODS)
def leave_bench(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """The student leaves a shared record."""
    changing = request.method == "POST"
    access, work, _ = get_record_for(current_person(request), work_id, to_change=changing)
    return part(request, access, work, "show-bench")


@require_http_methods(FORM_METHODS)
def part_partner(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """Teaching staff take a student who was absent out of a shared record."""
    changing = request.method == "POST"
    access, work = get_work_to_review(current_person(request), work_id, to_change=changing)
    return part(request, access, work, "review-report")


def part(request: HtmxRequest, access: CourseAccess, work: Work, back: str) -> HttpResponse:
    form = LeaveBenchForm(sent_data(request))
    if form.is_valid():
        try:
            bench_services.leave_bench(actor=access.person, work=work, **form.cleaned_data)
        except RecordIsLocked:
            form.add_error(None, "The readings are locked: the record stays as it is.")
        except RecordIsNotShared:
            form.add_error(None, "Nobody else is on this record.")
        else:
            messages.success(request, "Parted. The record stays with the others as it is.")
            return redirect(back, work.public_id)
    context = {
        "access": access,
        "work": work,
        "form": form,
        "partners": partners_of(work),
        "is_own": back == "show-bench",
    }
    return render(request, "workups/bench/leave_bench.html", context)
