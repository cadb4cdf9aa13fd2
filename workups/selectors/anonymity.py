"""Students' names on the pages of the review: hidden until release where the course says so.

It keeps a name from swaying a mark; it is no secret kept from the TA, who knows the people at the
bench. So the code is not the bench code, which stands beside the names on the door list.
"""

from django.db.models import Q
from django.utils.crypto import salted_hmac

from workups.models import Enrolment, Review, Role, Work
from workups.models.planning import CODE_SIGNS


def hides_names(work: Work, review: Review | None) -> bool:
    """Whether a page of the review shows this work by its code."""
    released = review is not None and review.state == Review.State.RELEASED
    return work.revision.course.anonymous_marking and not released


def marking_code(work: Work) -> str:
    """Five signs that stand for the work while it is marked, the same on every page."""
    digest = salted_hmac("labcourse.marking", str(work.public_id)).digest()
    return "".join(CODE_SIGNS[byte % len(CODE_SIGNS)] for byte in digest[:5])


def name_for_marking(work: Work, review: Review | None) -> str:
    return f"Report {marking_code(work)}" if hides_names(work, review) else str(work.student)


def people_to_hide(work: Work) -> frozenset[int]:
    """By key, whoever renames themselves: the owners of the work's record, and all who are
    students of the course, such as a partner who took part and left."""
    mine = Q(works=work)
    if work.bench_record_id is not None:
        mine |= Q(works__bench_record=work.bench_record_id)
    students = Q(course=work.revision.course_id, role=Role.STUDENT)
    found = Enrolment.objects.filter(mine | students)
    return frozenset(found.values_list("person_id", flat=True))
