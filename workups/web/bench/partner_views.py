"""Partners who part: one was absent, or works with somebody else now."""

from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from workups.models import Work
from workups.selectors.works import partners_of
from workups.services import bench as bench_services
from workups.services.bench import RecordIsLocked, RecordIsNotShared
from workups.web.access import CourseAccess, current_person
from workups.web.bench.access import get_record_for
from workups.web.requests import HtmxRequest, sent_data
from workups.web.review.access import get_work_to_review

FORM_METHODS = ["GET", "HEAD", "POST"]


class LeaveBenchForm(forms.Form):
    reason = forms.CharField(
        label="Why", max_length=300, help_text="For example: absent, works with another partner."
    )


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
