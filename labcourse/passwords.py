"""Words that a guesser who knows the place tries first."""

import re

from django.core.exceptions import ValidationError

NEARBY_WORDS = (
    "labcourse", "workup", "organic", "chemistry", "chemie", "laboratory", "labor", "student",
    "instructor", "assistant", "teacher", "stockroom", "course", "lab", "password", "passwort",
    "spring", "summer", "autumn", "winter",
)  # fmt: skip
LEAST_OF_ONES_OWN = 6


class NearbyWordsValidator:
    """Refuses a password that is hardly more than such words, with digits and signs between."""

    def validate(self, password: str, user: object = None) -> None:
        rest = re.sub("|".join(NEARBY_WORDS), "", password.casefold())
        rest = re.sub(r"[\W\d_]", "", rest)
        if rest != re.sub(r"[\W\d_]", "", password.casefold()) and len(rest) < LEAST_OF_ONES_OWN:
            raise ValidationError(self.get_help_text(), code="password_nearby_words")

    def get_help_text(self) -> str:
        return "Words of the place, such as chemistry or course, are not enough for a password."
