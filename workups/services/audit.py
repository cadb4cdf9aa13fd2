from typing import Any

from django.db import models

from workups.models import AuditEntry, Course, Person


def record_audit(
    *,
    actor: Person | None,
    action: str,
    subject: models.Model | None = None,
    course: Course | None = None,
    details: dict[str, Any] | None = None,
) -> AuditEntry:
    """Add an entry to the audit log. Call it inside the transaction of what it tells of.

    `action` is a verb and a noun with a dash, such as "adjust-points"; `details` is plain JSON;
    `actor` is None for what the program does by itself (a deadline that passes).
    """
    return AuditEntry.objects.create(
        actor=actor,
        actor_name=actor.display_name if actor else "Labcourse",
        course=course,
        action=action,
        object_type=subject._meta.model_name or "" if subject else "",
        object_id=public_id_of(subject),
        object_text=str(subject)[:300] if subject else "",
        details=details or {},
    )


def public_id_of(subject: models.Model | None) -> str:
    if subject is None:
        return ""
    return str(getattr(subject, "public_id", subject.pk))
