from django import template
from django.template import Context

from workups.chemistry.plan import Step
from workups.exercise.exercise import Exercise
from workups.grading.trying import Idea, ideas_of
from workups.models import Course, Work
from workups.selectors.exercises import Safety, safety_of
from workups.web.access import CourseAccess
from workups.web.navigation import NavigationLink, course_links

register = template.Library()


@register.simple_tag(takes_context=True, name="course_links")
def course_links_tag(context: Context, access: CourseAccess) -> list[NavigationLink]:
    """The links of the course's header that this person's role has."""
    return course_links(access, context["request"].path)


@register.simple_tag(name="safety_of")
def safety_of_tag(course: Course, exercise: Exercise) -> Safety:
    """What stands on a page for an emergency with this exercise."""
    return safety_of(course, [exercise])


@register.simple_tag(name="tries_at")
def tries_at_tag(step: Step | None, work: Work, found: str = "") -> tuple[Idea, ...]:
    """What can be tried at a step of a student's plan, or of a finding there (its code)."""
    return ideas_of(step, work.to_core(), found) if step else ()
