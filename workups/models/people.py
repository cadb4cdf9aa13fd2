import unicodedata
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from workups.models.public import PublicIdModel


def normalise_sign_in(text: str) -> str:
    """One spelling for a sign-in name: `ÅSA ` and `åsa` are the same person."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).strip().casefold())


def validate_sign_in(text: str) -> None:
    if any(ch.isspace() or unicodedata.category(ch).startswith("C") for ch in text):
        raise ValidationError("A sign-in name has no blanks or invisible characters in it.")


class PersonManager(BaseUserManager["Person"]):
    def get_by_natural_key(self, username: str | None) -> "Person":
        return self.get(sign_in=normalise_sign_in(username or ""))

    def create_user(
        self,
        sign_in: str,
        password: str | None = None,
        *,
        display_name: str = "",
        email: str = "",
        may_open_courses: bool = False,
    ) -> "Person":
        """Without a password the person signs in only after setting one through a link."""
        person = self.model(
            sign_in=normalise_sign_in(sign_in),
            display_name=display_name or sign_in,
            email=self.normalize_email(email),
            may_open_courses=may_open_courses,
        )
        person.set_password(password)
        person.full_clean()
        person.save(using=self._db)
        return person

    def create_superuser(self, sign_in: str, password: str | None, **fields: Any) -> "Person":
        """For Django's `createsuperuser`: a person who may open courses."""
        return self.create_user(sign_in, password, may_open_courses=True, **fields)


class Person(PublicIdModel, AbstractBaseUser):
    """Someone who signs in. What they may do follows from their enrolment in each course."""

    sign_in = models.CharField(
        "sign-in name", max_length=150, unique=True, validators=[validate_sign_in]
    )
    display_name = models.CharField("name", max_length=200)
    email = models.EmailField("e-mail", blank=True)
    is_active = models.BooleanField(default=True)
    may_open_courses = models.BooleanField(default=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    wrong_passwords = models.PositiveIntegerField(
        default=0, editable=False, help_text="In a row, on the person's own pages."
    )
    wrong_password_at = models.DateTimeField(null=True, blank=True, editable=False)

    USERNAME_FIELD = "sign_in"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["display_name", "email"]

    objects = PersonManager()

    class Meta:
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.display_name

    def clean(self) -> None:
        super().clean()
        self.sign_in = normalise_sign_in(self.sign_in)

    def get_full_name(self) -> str:
        return self.display_name

    def has_set_password(self) -> bool:
        return self.has_usable_password()


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


class StationFailure(models.Model):
    """A bench code and PIN, or a sign-in, that did not fit; kept for a day to slow guessing."""

    code = models.CharField(max_length=8)
    address = models.GenericIPAddressField(null=True)
    at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        ordering = ("-at",)

    def __str__(self) -> str:
        return f"{self.code}, {self.at:%Y-%m-%d %H:%M}"
