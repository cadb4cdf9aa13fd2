from django.db import models
from django.utils import timezone


class StationFailure(models.Model):
    """A bench code and PIN, or a sign-in, that did not fit; kept for a day to slow guessing."""

    code = models.CharField(max_length=8)
    address = models.GenericIPAddressField(null=True)
    at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        ordering = ("-at",)

    def __str__(self) -> str:
        return f"{self.code}, {self.at:%Y-%m-%d %H:%M}"
