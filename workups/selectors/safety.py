"""What stands on every sheet of an exercise for an emergency."""

from workups.grading.exercise import Exercise
from workups.models import Course


def emergency_text(course: Course, exercise: Exercise) -> str:
    """The course's text, the exercise's own, and where its safety data sheets are."""
    texts = exercise.texts
    sheets = "; ".join(f"{sheet.name} {sheet.url}" for sheet in texts.safety_sheets)
    parts = (course.emergency_text, texts.emergency, sheets and f"Safety data sheets: {sheets}.")
    return " ".join(part.strip() for part in parts if part.strip())
