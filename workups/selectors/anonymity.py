"""Students' names on the pages of the review: hidden until release where the course says so.

It keeps a name from swaying a mark; it is no secret kept from the TA, who knows the people at the
bench. So the code is not the bench code, which stands beside the names on the door list.
"""

from django.utils.crypto import salted_hmac

from workups.models import BenchRecord, Review, Work
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


def owners_names(record: BenchRecord | None, work: Work) -> frozenset[str]:
    """The names of all who share the record, or of the one student without one."""
    works = record.works.select_related("enrolment__person") if record is not None else [work]
    return frozenset(str(each.student) for each in works)
