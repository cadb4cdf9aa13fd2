from django.db import models
from django.utils import timezone

from workups.models.people import Person


class SecondStep(models.Model):
    """A person's key for codes from an authenticator (RFC 6238: SHA-1, six digits, 30 s).

    `last_counter` is the time step of the code used last, so that none is taken twice. Wrong codes
    are counted here: whoever sends them knows the password already. The key is read by
    `services.second_step.key_of`.
    """

    person = models.OneToOneField(Person, on_delete=models.CASCADE, related_name="second_step")
    sealed_key = models.TextField(help_text="The key in base 32, sealed (services/sealing.py).")
    # Of the recovery codes' digests. Those made before keys were sealed have the key for it.
    recovery_salt = models.CharField(max_length=64, blank=True, default="")
    confirmed_at = models.DateTimeField(null=True, blank=True, editable=False)
    last_counter = models.BigIntegerField(default=0)
    wrong_codes = models.PositiveSmallIntegerField(default=0)
    locked_until = models.DateTimeField(null=True, blank=True, editable=False)
    made_at = models.DateTimeField(default=timezone.now, editable=False)

    def __str__(self) -> str:
        return f"Second step of {self.person}"


class RecoveryCode(models.Model):
    """A code on paper, good for one sign-in without the authenticator; kept as its digest."""

    step = models.ForeignKey(SecondStep, on_delete=models.CASCADE, related_name="recovery_codes")
    digest = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=("step", "digest"), name="recovery_code_once"),
        )

    def __str__(self) -> str:
        return "Recovery code"
