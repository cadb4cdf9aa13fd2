from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.models import Course, Role
from workups.selectors.courses import enrolments_of, section_lines
from workups.selectors.exercises import exercise_lines
from workups.services import courses as course_services
from workups.services import new_term
from workups.services.courses import CourseIsOpen
from workups.web.access import INSTRUCTOR, current_person, get_course_for, get_section_for
from workups.web.courses.forms import CourseForm, NewTermForm, OpenCourseForm, SectionForm
from workups.web.optimistic_lock import locked_if_sent
from workups.web.requests import FORM_METHODS, sent_data


@require_safe
def list_courses(request: HttpRequest) -> HttpResponse:
    person = current_person(request)
    enrolments = list(enrolments_of(person))
    context = {
        "current": [e for e in enrolments if not e.course.is_archived],
        "archived": [e for e in enrolments if e.course.is_archived],
    }
    return render(request, "workups/courses/list_courses.html", context)


@require_safe
def show_first_page(request: HttpRequest) -> HttpResponse:
    """Where one who has signed in works: in the only course there is, else at the list of them."""
    current = [e for e in enrolments_of(current_person(request)) if not e.course.is_archived]
    if len(current) != 1:
        return redirect("list-courses")
    page = "list-work" if current[0].role == Role.STUDENT else "show-course"
    return redirect(page, current[0].course.public_id)


@require_http_methods(FORM_METHODS)
def open_course(request: HttpRequest) -> HttpResponse:
    person = current_person(request)
    if not person.may_open_courses:
        raise PermissionDenied("Only a person who may open courses sees this page.")
    form = OpenCourseForm(sent_data(request))
    if request.method == "POST" and form.is_valid():
        try:
            course = course_services.open_course(actor=person, **form.cleaned_data)
        except CourseIsOpen as known:
            return to_open_course(request, known.course)
        messages.success(request, f"{course} is open. Next, bring its roster.")
        return redirect("show-course", course.public_id)
    return render(request, "workups/courses/open_course.html", {"form": form})


def to_open_course(request: HttpRequest, course: Course) -> HttpResponse:
    messages.info(request, f"You have {course} already; no other was opened.")
    return redirect("show-course", course.public_id)


@require_safe
def show_course(request: HttpRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id)
    context = {
        "access": access,
        "exercise_lines": exercise_lines(access.enrolment),
        "section_lines": section_lines(access.enrolment),
    }
    return render(request, "workups/courses/show_course.html", context)


@require_http_methods(FORM_METHODS)
def edit_course(request: HttpRequest, course_id: UUID) -> HttpResponse:
    changing = request.method == "POST"
    access = get_course_for(current_person(request), course_id, INSTRUCTOR, to_change=changing)
    with locked_if_sent(request, access.course):
        form = CourseForm(sent_data(request), initial=CourseForm.initial_for(access.course))
        if changing and form.is_valid():
            course_services.edit_course(
                actor=access.person, course=access.course, **form.cleaned_data
            )
            messages.success(request, "The course's settings are saved.")
            return redirect("show-course", course_id)
    return render(request, "workups/courses/edit_course.html", {"access": access, "form": form})


@require_POST
def archive_course(request: HttpRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, INSTRUCTOR)
    course_services.set_archived(actor=access.person, course=access.course, archived=True)
    messages.success(request, "The course is archived: it can be read, not changed.")
    return redirect("show-course", course_id)


@require_POST
def reopen_course(request: HttpRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, INSTRUCTOR)
    course_services.set_archived(actor=access.person, course=access.course, archived=False)
    messages.success(request, "The course is open again.")
    return redirect("show-course", course_id)


@require_http_methods(FORM_METHODS)
def copy_course(request: HttpRequest, course_id: UUID) -> HttpResponse:
    """A new course with the exercises and settings of this one, for the next term."""
    person = current_person(request)
    access = get_course_for(person, course_id, INSTRUCTOR)
    if not person.may_open_courses:
        raise PermissionDenied("A copy is a new course, and you may not open courses.")
    initial = {"title": access.course.title, "weeks_later": 52}
    form = NewTermForm(sent_data(request), course=access.course, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            course = new_term.copy_course(
                actor=person, course=access.course, new=form.cleaned_data["new"]
            )
        except CourseIsOpen as known:
            return to_open_course(request, known.course)
        messages.success(request, f"{course} is open. Look at its dates, then bring its roster.")
        return redirect("show-course", course.public_id)
    return render(request, "workups/courses/copy_course.html", {"access": access, "form": form})


@require_http_methods(FORM_METHODS)
def add_section(request: HttpRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, INSTRUCTOR, to_change=True)
    with locked_if_sent(request, access.course):
        form = SectionForm(sent_data(request), course=access.course)
        if request.method == "POST" and form.is_valid():
            section = course_services.add_section(
                actor=access.person, course=access.course, **form.cleaned_data
            )
            messages.success(request, f"Section {section} is added.")
            return redirect("show-course", course_id)
    return render(request, "workups/courses/add_section.html", {"access": access, "form": form})


@require_http_methods(FORM_METHODS)
def edit_section(request: HttpRequest, section_id: UUID) -> HttpResponse:
    access, section = get_section_for(
        current_person(request), section_id, INSTRUCTOR, to_change=True
    )
    with locked_if_sent(request, access.course, section):
        form = SectionForm(
            sent_data(request),
            course=access.course,
            section=section,
            initial={"name": section.name, "meets": section.meets},
        )
        if request.method == "POST" and form.is_valid():
            course_services.edit_section(actor=access.person, section=section, **form.cleaned_data)
            messages.success(request, "The section is saved.")
            return redirect("show-course", access.course.public_id)
    context = {"access": access, "form": form, "section": section}
    return render(request, "workups/courses/edit_section.html", context)
