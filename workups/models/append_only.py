from typing import Any, NoReturn, TypeVar

from django.db import models
from django.utils import timezone

from workups.models.courses import Course
from workups.models.people import Person


class RowIsAppendOnly(Exception):
    """Somebody tried to change or remove a row of a history that only grows."""


_Row = TypeVar("_Row", bound=models.Model)


class AppendOnlyQuerySet(models.QuerySet[_Row]):
    def update(self, **fields: Any) -> NoReturn:
        raise RowIsAppendOnly

    def delete(self) -> NoReturn:
        raise RowIsAppendOnly


class AppendOnlyModel(models.Model):
    """A row of a history: written once; a correction is a new row that supersedes it.

    The database refuses changes too (`append_only_triggers.py`): a new table of this kind is put
    under guard by its migration.
    """

    objects = AppendOnlyQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise RowIsAppendOnly
        # Else a row made up with the key of another one would be written over it.
        super().save(*args, **{**kwargs, "force_insert": True})

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise RowIsAppendOnly


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
