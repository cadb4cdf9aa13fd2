from django.db import models
from django.utils import timezone

from workups.models.append_only import AppendOnlyModel
from workups.models.courses import Course
from workups.models.people import Person


class AuditEntry(AppendOnlyModel):
    """Who did what to which object, and when. Entries are only ever added.

    The object is named by its model, its public id and its text at the time, not by a foreign
    key, so that an entry outlives what it tells of.
    """

    at = models.DateTimeField(default=timezone.now, editable=False, db_index=True)
    actor = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, related_name="audit_entries"
    )
    actor_name = models.CharField(max_length=200)
    course = models.ForeignKey(
        Course, on_delete=models.PROTECT, null=True, related_name="audit_entries"
    )
    action = models.CharField(max_length=60)
    object_type = models.CharField(max_length=60, blank=True)
    object_id = models.CharField(max_length=60, blank=True)
    object_text = models.CharField(max_length=300, blank=True)
    details = models.JSONField(default=dict)

    class Meta:
        ordering = ("-at", "-pk")
        verbose_name_plural = "audit entries"
        indexes = (models.Index(fields=("object_type", "object_id"), name="audit_by_object"),)

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.actor_name}: {self.action} {self.object_text}"
