from django.db import models
from django.utils import timezone

from workups.models.append_only import AppendOnlyModel
from workups.models.bench import BenchRecord
from workups.models.people import Person


class SheetTyping(AppendOnlyModel):
    """The printed bench sheet as somebody typed it in, for double entry; nothing typed is lost.

    `turn` is 1 for the first time, 2 for the second without sight of the first, 3 for what was
    decided where the two differ. `stored` marks the row that the record's entries came from.
    """

    record = models.ForeignKey(BenchRecord, on_delete=models.PROTECT, related_name="typings")
    client_token = models.UUIDField(unique=True)
    turn = models.PositiveSmallIntegerField()
    data = models.JSONField(help_text="What stood in each field, as typed.")
    stored = models.BooleanField(default=False)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="sheet_typings")
    at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"Sheet typed in, turn {self.turn}, {self.by}"
