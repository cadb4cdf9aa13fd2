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
