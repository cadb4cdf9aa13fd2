"""What stands on pages and sheets for an emergency, and where safety data sheets are."""

from collections.abc import Iterable
from dataclasses import dataclass

from workups.exercise.exercise import Exercise, SafetySheet
from workups.models import Course


@dataclass(frozen=True)
class Safety:
    """The exercises' own texts, the course's text for all of them, and the links of both."""

    of_exercises: tuple[str, ...]
    of_course: str
    sheets: tuple[SafetySheet, ...]

    def __str__(self) -> str:
        """All of it in one paragraph, as printed: the exercise's own first."""
        links = "; ".join(f"{sheet.name} {sheet.url}" for sheet in self.sheets)
        named = (f"Safety data sheets: {links}.",) if links else ()
        return " ".join(filter(None, (*self.of_exercises, self.of_course, *named)))


def safety_of(course: Course, exercises: Iterable[Exercise]) -> Safety:
    """The same for one exercise or several, each text and each link once."""
    texts = [exercise.texts for exercise in exercises]
    own = dict.fromkeys(text.emergency.strip() for text in texts)
    sheets = [sheet for text in texts for sheet in text.safety_sheets]
    sheets += [SafetySheet(link.label, link.url) for link in course.safety_links]
    once = tuple(dict.fromkeys(sheets))
    return Safety(tuple(filter(None, own)), course.emergency_text.strip(), once)
