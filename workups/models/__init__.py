"""The rows. One file per topic; every model is exported here."""

from workups.models.audit import AuditEntry
from workups.models.courses import Course, Enrolment, Role, SafetyLink, Section
from workups.models.people import Person, normalise_sign_in
from workups.models.public import PublicIdModel

__all__ = [
    "AuditEntry",
    "Course",
    "Enrolment",
    "Person",
    "PublicIdModel",
    "Role",
    "SafetyLink",
    "Section",
    "normalise_sign_in",
]
