from uuid import UUID

from django.contrib import messages
from django.http import Http404

from workups.models import BenchRecord, Person, Work
from workups.selectors.works import record_is_locked
from workups.web.access import CourseAccess
from workups.web.planning.access import get_work_for
from workups.web.requests import HtmxRequest


def get_record_for(
    person: Person, work_id: UUID, *, to_change: bool = False
) -> tuple[CourseAccess, Work, BenchRecord]:
    """The student's own bench record; 404 where none is begun."""
    access, work = get_work_for(person, work_id, to_change=to_change)
    if work.bench_record is None:
        raise Http404
    return access, work, work.bench_record


def refuse_if_locked(request: HtmxRequest, record: BenchRecord) -> bool:
    """Say that the readings are locked; True where they are."""
    if not record_is_locked(record):
        return False
    messages.error(request, "The readings are locked: nothing can be added or corrected.")
    return True
