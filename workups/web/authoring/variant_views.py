from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.documents import dump_exercise
from workups.documents.differences import by_topic, differences
from workups.documents.variants import VariantDoesNotFit
from workups.explanation.model_summary import plan_warnings
from workups.models import Assignment, ExerciseVariant, Person, Work
from workups.selectors.model_preview import expected_line
from workups.selectors.progress import current_works
from workups.services import variants
from workups.services.assessments import seed_for
from workups.services.publishing import (
    ModelPlanFails,
    assess_model,
    assess_model_of,
    failing_checks,
)
from workups.services.variants import BenchHasBegun, Given, VariantIsInUse
from workups.web.access import (
    INSTRUCTOR,
    CourseAccess,
    current_person,
    get_access_to,
    get_assignment_for,
    get_revision_for,
)
from workups.web.authoring.variant_forms import (
    AS_PUBLISHED,
    ChooseVariantForm,
    StudentVariantForm,
    VariantForm,
)
from workups.web.authoring.views import begin_try_out, file_response
from workups.web.requests import FORM_METHODS, HtmxRequest, sent_data


def get_variant_for(
    person: Person, public_id: UUID, *, to_change: bool = False
) -> tuple[CourseAccess, ExerciseVariant]:
    variant = get_object_or_404(
        ExerciseVariant.objects.select_related("revision__course", "made_by"), public_id=public_id)
    access = get_access_to(person, variant.revision.course, INSTRUCTOR, to_change=to_change)
    return access, variant


@require_http_methods(FORM_METHODS)
def add_variant(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    """The variants of a published exercise, and the form for one more."""
    access, revision = get_revision_for(
        current_person(request), revision_id, to_change=request.method == "POST"
    )
    form = VariantForm(sent_data(request), exercise=revision.to_core())
    if request.method == "POST" and form.is_valid():
        try:
            variant = variants.add_variant(
                actor=access.person,
                revision=revision,
                title=form.cleaned_data["title"],
                variant=form.cleaned_data["variant"],
            )
        except VariantDoesNotFit as problem:
            form.add_error(None, f"This does not fit the exercise: {problem}.")
        except ValidationError as error:
            form.add_error(None, error)
        else:
            return redirect("show-variant", variant.public_id)
    context = {
        "access": access,
        "revision": revision,
        "form": form,
        "variants": revision.variants.filter(dropped_at__isnull=True),
    }
    return render(request, "workups/authoring/add_variant.html", context)


@require_safe
def show_variant(request: HtmxRequest, variant_id: UUID) -> HttpResponse:
    """What follows from the change: in words, in masses, and in the checks of its own plan."""
    access, variant = get_variant_for(current_person(request), variant_id)
    made = variants.what_it_gives(variant)
    before = variant.revision.to_core()
    context = {
        "access": access,
        "variant": variant,
        "spreads": variant.to_core().spreads,
        "notes": made.notes,
        "topics": by_topic(differences(before, made.exercise)),
        "assignments": variant.revision.assignments.select_related("section"),
        **_side_by_side(variant),
    }
    return render(request, "workups/authoring/show_variant.html", context)


def _side_by_side(variant: ExerciseVariant) -> dict[str, Any]:
    """Expected masses as published and as changed, and the checks that the changed plan fails."""
    made = variants.what_it_gives(variant).exercise
    try:
        old = assess_model_of(variant.revision)
        new = assess_model(document=dump_exercise(made), seed=seed_for(variant.revision))
    except ModelPlanFails as failure:
        return {"stops": str(failure)}
    readability_g = made.setup.glassware.balance_readability_g
    return {
        "expected": [
            (words, expected_line(line, readability_g))
            for words, assessment in (("as published", old), (variant.title, new))
            for line in assessment.expected
        ],
        "fails": failing_checks(new),
        "warnings": plan_warnings(made, made.model_plan, new),
    }


@require_safe
def download_variant(request: HtmxRequest, variant_id: UUID) -> HttpResponse:
    _, variant = get_variant_for(current_person(request), variant_id)
    text = dump_exercise(variants.what_it_gives(variant).exercise)
    return file_response(text, f"{variant.revision.key}-variant.toml")


@require_POST
def try_variant(request: HtmxRequest, variant_id: UUID) -> HttpResponse:
    """The instructor as the only student of this form, with amounts of their own."""
    access, variant = get_variant_for(current_person(request), variant_id, to_change=True)
    text = variants.text_for(variant, access.person)
    return begin_try_out(request, access, variant.revision.key, variant.revision.title, text)


@require_POST
def drop_variant(request: HtmxRequest, variant_id: UUID) -> HttpResponse:
    access, variant = get_variant_for(current_person(request), variant_id, to_change=True)
    try:
        variants.drop_variant(actor=access.person, variant=variant)
        messages.success(request, f"“{variant.title}” is dropped.")
    except VariantIsInUse:
        messages.error(request, "Somebody has this variant: give them another form first.")
    return redirect("add-variant", variant.revision.public_id)


@require_http_methods(FORM_METHODS)
def give_variant(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    """Which form of the exercise a section begins with, and single students in it."""
    access, assignment = get_assignment_for(
        current_person(request), assignment_id, INSTRUCTOR, to_change=True
    )
    known = list(assignment.revision.variants.filter(dropped_at__isnull=True))
    now = assignment.variant
    for_section = "section-variant" in request.POST
    section_form = ChooseVariantForm(
        sent_data(request) if for_section else None,
        variants=known,
        prefix="section",
        initial={"variant": str(now.public_id) if now else AS_PUBLISHED},
    )
    student_form = StudentVariantForm(
        None if for_section else sent_data(request), variants=known, assignment=assignment
    )
    form = section_form if for_section else student_form
    if request.method == "POST" and form.is_valid():
        _give(request, access.person, assignment, form)
        return redirect("give-variant", assignment_id)
    context = {
        "access": access,
        "assignment": assignment,
        "known": known,
        "section_form": section_form,
        "form": student_form,
        "works": _works_with_another_form(assignment),
    }
    return render(request, "workups/authoring/give_variant.html", context)


def _works_with_another_form(assignment: Assignment) -> list[Work]:
    works = current_works([assignment.pk]).select_related("enrolment__person", "variant")
    return [work for work in works if work.variant_id != assignment.variant_id]


def given_words(given: Given) -> str:
    """Who has the form now, and who keeps what was begun."""
    have = "One student has" if given.changed == 1 else f"{given.changed} students have"
    keep = {0: "", 1: "; one keeps what was begun or given"}.get(
        given.kept, f"; {given.kept} keep what was begun or given"
    )
    return f"{have} it now{keep}."


def _give(
    request: HtmxRequest, person: Person, assignment: Assignment, form: ChooseVariantForm
) -> None:
    if not isinstance(form, StudentVariantForm):
        given = variants.give_variant_to_section(
            actor=person, assignment=assignment, variant=form.chosen()
        )
        messages.success(request, given_words(given))
        return
    work = form.cleaned_data["student"]
    try:
        variants.give_variant_to_student(
            actor=person, work=work, variant=form.chosen(), reason=form.cleaned_data["reason"]
        )
        messages.success(request, f"{work.student} has it now.")
    except BenchHasBegun:
        messages.error(request, f"{work.student} is at the bench already: it is too late.")
