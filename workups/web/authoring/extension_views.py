from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from workups.models import Extension
from workups.services import exercises
from workups.web.access import INSTRUCTOR, current_person, get_assignment_for
from workups.web.authoring.forms import ExtensionForm
from workups.web.authoring.views import FORM_METHODS
from workups.web.requests import HtmxRequest, sent_data


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
