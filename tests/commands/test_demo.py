"""The demo course: made once, through the real services, and never made again."""

from __future__ import annotations

from io import StringIO

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command

from workups.demo.build import demo_course
from workups.demo.people import students
from workups.models import AssessmentSnapshot, Review, Role

pytestmark = pytest.mark.django_db


def make(*more: str) -> str:
    out = StringIO()
    call_command("demo", "--no-serve", "--students", "1", *more, stdout=out)
    return out.getvalue()


def row_counts() -> dict[str, int]:
    return {m.__name__: m.objects.count() for m in apps.get_app_config("workups").get_models()}


def test_the_demo_course_has_people_plans_readings_and_marked_reports() -> None:
    said = make()
    course = demo_course()
    assert course is not None
    assert course.sections.count() == 4
    assert course.enrolments.filter(role=Role.STUDENT).count() == 4
    judged = AssessmentSnapshot.objects.filter(readings__isnull=False)
    assert judged.values("work").distinct().count() == 2
    assert Review.objects.filter(state=Review.State.RELEASED).count() == 1
    assert Review.objects.filter(state=Review.State.WAITING).count() == 1
    assert "student1" in said.replace("student01", "student1")
    before = row_counts()
    assert "nothing was changed" in make()
    assert row_counts() == before


def test_no_two_students_have_the_same_name() -> None:
    names = [s.name for s in students()]
    assert len(names) == len(set(names)) == 64


def test_a_wrong_number_of_students_is_refused() -> None:
    with pytest.raises(CommandError, match="1 to 24"):
        call_command("demo", "--no-serve", "--students", "0")


def test_the_demo_is_not_made_in_production(settings: object) -> None:
    settings.IN_PRODUCTION = True  # type: ignore[attr-defined]
    with pytest.raises(CommandError, match="not for production"):
        call_command("demo", "--no-serve")
