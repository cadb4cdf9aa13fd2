"""Partners share a bench record: one asks by its code, an owner of the record answers.

The code stands on flask labels and sheets, where anybody can read it: it says which record is
meant, and opens none by itself.
"""

from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from workups.models import Person, ShareRequest, Work
from workups.services.audit import record_audit
from workups.services.bench import join_bench, require_place
from workups.services.holding import hold
from workups.services.refusals import Refused

WRONG_CODES, WINDOW = 8, timedelta(hours=1)
KEPT_FOR = timedelta(days=1)


class NoSuchPartner(Refused):
    """Nobody of the assignment has this code, or has a record with it yet."""


class TooManyCodes(Refused):
    """The student has tried too many codes that open no record."""


class AlreadyAnswered(Refused):
    """A partner has answered, or the student has begun a record or asked somebody else."""


def ask_to_share(*, actor: Person, work: Work, code: str) -> ShareRequest:
    """Ask the owners of the record with this code; a request before it is taken back.

    Raises NoSuchPartner, TooManyCodes, and what `require_place` raises.
    """
    asked = _ask(actor, work, code)
    if asked.record is None:
        raise NoSuchPartner
    return asked


@transaction.atomic
def _ask(actor: Person, work: Work, code: str) -> ShareRequest:
    hold(work)
    wrong = ShareRequest.objects.filter(work=work, record__isnull=True)
    wrong.filter(asked_at__lt=timezone.now() - KEPT_FOR).delete()
    if wrong.filter(asked_at__gte=timezone.now() - WINDOW).count() >= WRONG_CODES:
        raise TooManyCodes
    partner = (
        Work.objects.filter(assignment_id=work.assignment_id, bench_code=code)
        .exclude(pk=work.pk)
        .select_related("bench_record")
        .first()
    )
    record = partner.bench_record if partner else None
    if record is None:
        return ShareRequest.objects.create(work=work)
    require_place(work, record)
    open_request = ShareRequest.objects.filter(work=work, record__isnull=False, granted=None)
    open_request.update(granted=False, answered_at=timezone.now(), answered_by=actor)
    asked = ShareRequest(work=work, record=record)
    asked.full_clean()
    asked.save()
    record_audit(
        actor=actor, action="ask-to-share", subject=record, course=work.revision.course
    )
    return asked


@transaction.atomic
def answer_share(*, actor: Person, asked: ShareRequest, grant: bool) -> ShareRequest:
    """An owner lets the student in, or does not.

    Raises AlreadyAnswered, and what `join_bench` raises.
    """
    hold(asked.work)
    asked.refresh_from_db(fields=["granted"])
    if asked.granted is not None or asked.record is None:
        raise AlreadyAnswered
    if grant:
        join_bench(actor=actor, work=asked.work, record=asked.record)
    asked.granted, asked.answered_at, asked.answered_by = grant, timezone.now(), actor
    asked.full_clean()
    asked.save(update_fields=["granted", "answered_at", "answered_by"])
    if not grant:
        record_audit(
            actor=actor,
            action="refuse-to-share",
            subject=asked.record,
            course=asked.work.revision.course,
            details={"student": str(asked.work.student)},
        )
    return asked
