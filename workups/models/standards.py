from django.db import models
from django.utils import timezone

from workups.models.append_only import AppendOnlyModel
from workups.models.people import Person
from workups.models.planning import Work
from workups.models.public import PublicIdModel


class ComparedReport(PublicIdModel):
    """A report that several people mark by themselves, so that their standards can be compared.

    These marks are for the comparison alone; the student's mark is the review's.
    """

    class Purpose(models.TextChoices):
        ANCHOR = "anchor", "Anchor report"
        SECOND = "second", "Second reading"

    work = models.OneToOneField(Work, on_delete=models.PROTECT, related_name="compared")
    purpose = models.CharField(max_length=8, choices=Purpose)
    chosen_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="chosen_reports")
    chosen_at = models.DateTimeField(default=timezone.now, editable=False)
    dropped_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("chosen_at", "pk")

    def __str__(self) -> str:
        return f"{self.get_purpose_display()}: {self.work}"


class ComparedMark(AppendOnlyModel):
    """The points one person would give a compared report, by check; the newest of each counts."""

    report = models.ForeignKey(ComparedReport, on_delete=models.PROTECT, related_name="marks")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="compared_marks")
    points = models.JSONField(help_text="Points by the name of the check.")
    remark = models.CharField(max_length=1000, blank=True)
    at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.report} by {self.by}"

    @property
    def total(self) -> float:
        return float(sum(self.points.values()))
