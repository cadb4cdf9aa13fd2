"""The demo course: made once, through the real services, and never made again."""

from __future__ import annotations

from io import StringIO

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.urls import reverse

from workups.demo import build
from workups.demo.build import demo_course, fill_demo, open_demo
from workups.demo.people import students
from workups.demo.records import can_be_entered
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.invented_students import planning_mistakes, simulate_student
from workups.models import AssessmentSnapshot, PlanRevision, Review, Role, Work
from workups.services import assessments

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


def test_the_course_is_there_before_its_students_have_done_anything(client: Client) -> None:
    course = open_demo(1)
    assert Work.objects.filter(enrolment__course=course).count() == 10
    assert not PlanRevision.objects.exists()
    client.force_login(course.enrolments.get(role=Role.INSTRUCTOR).person)
    page = client.get(reverse("show-course", args=[course.public_id])).content.decode()
    assert course.filling in page
    assert "reload this page" in course.filling


def test_every_invented_student_has_numbers_that_the_bench_takes() -> None:
    """One who writes milligrams for grams of a flask, and one who puts agent into the water layer
    until it is loose, were refused, and the filling ended there with 59 of 65 left."""
    exercise = library_exercise("plain-ether")
    for name, first in (("Monday", 0), ("Tuesday", 16)):
        for n in range(16):
            made = build.drawn_student(exercise, seed=100 * len(name) + n, number=first + n)
            assert can_be_entered(made.readings), (name, n)
    mistake = planning_mistakes(exercise)["no-agent"]
    assert not can_be_entered(simulate_student(exercise, 605, plan=mistake).readings)


class CutShort(Exception):
    """The power went."""


def test_what_was_cut_short_goes_on_where_it_stopped() -> None:
    said: list[str] = []

    def until_wednesday(line: str) -> None:
        said.append(line)
        if line.startswith("Wednesday"):
            raise CutShort

    course = open_demo(1)
    with pytest.raises(CutShort):
        fill_demo(course, until_wednesday)
    assert "2 of 5 things done" in course.filling
    before = row_counts()
    make()
    course.refresh_from_db()
    assert course.filling == ""
    after = row_counts()
    assert after["AssessmentSnapshot"] - before["AssessmentSnapshot"] <= 2
    assert after["Review"] == before["Review"] == 2
    assert Review.objects.filter(state=Review.State.RELEASED).count() == 1


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


@pytest.mark.django_db(transaction=True)
def test_nothing_is_computed_while_rows_are_held(monkeypatch: pytest.MonkeyPatch) -> None:
    """Filling the course goes on beside the server, and SQLite lets one write at a time: who signs
    in meanwhile was told that nothing could be saved."""
    held: list[bool] = []

    def watched(*given: object, **named: object) -> object:
        held.append(connection.in_atomic_block)
        return assess(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(assessments, "assess", watched)
    fill_demo(open_demo(1), lambda _: None)
    assert len(held) >= 4
    assert not any(held)
