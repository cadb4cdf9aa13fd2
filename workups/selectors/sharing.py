from django.db.models import QuerySet

from workups.models import BenchRecord, ShareRequest, Work


def shares_asked_of(record: BenchRecord) -> QuerySet[ShareRequest]:
    """Requests to share a record that wait for an owner's answer."""
    return ShareRequest.objects.filter(
        record=record, granted=None, work__bench_record=None
    ).select_related("work__enrolment__person", "work__revision__course", "work__assignment")


def last_share_asked_by(work: Work) -> ShareRequest | None:
    """What the student asked last, answered or not."""
    asked = ShareRequest.objects.filter(work=work, record__isnull=False)
    return asked.select_related("answered_by").first()
