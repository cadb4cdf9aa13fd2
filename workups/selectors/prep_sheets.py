"""Who needs what put out: the students of sections, by the exercise that each of them has."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils import timezone

from workups.exercise.exercise import Exercise
from workups.models import Assignment, Enrolment, Work
from workups.selectors.exercises import assignments_in_order
from workups.selectors.progress import Progress, current_works, progress_of
from workups.sheets.prep_lines import PrepSheet, PrepTerms, StockGroup, prep_lines


@dataclass(frozen=True)
class PrepLine:
    """A section's share in a week's preparations."""

    assignment: Assignment
    progress: Progress


@dataclass(frozen=True)
class PrepWeek:
    """What is to be put out in a week, named by its Monday: plans are due in it."""

    monday: date
    lines: tuple[PrepLine, ...]

    @property
    def year(self) -> int:
        return self.monday.isocalendar().year

    @property
    def week(self) -> int:
        return self.monday.isocalendar().week


def prep_weeks(enrolment: Enrolment) -> list[PrepWeek]:
    """Everything this person sees prep sheets of, the earliest week on top."""
    assignments = assignments_in_order(enrolment)
    progress = progress_of(assignments)
    weeks: dict[date, list[PrepLine]] = {}
    for assignment in assignments:
        line = PrepLine(assignment, progress[assignment.pk])
        weeks.setdefault(monday_of(assignment), []).append(line)
    return [PrepWeek(monday, tuple(weeks[monday])) for monday in sorted(weeks)]


def monday_of(assignment: Assignment) -> date:
    day = timezone.localtime(assignment.plan_due).date()
    return day - timedelta(days=day.weekday())


def prep_sheet(assignment: Assignment, terms: PrepTerms) -> PrepSheet:
    """For the students of the section; a record shared by two needs half as much."""
    return prep_sheet_of([assignment], terms)


def prep_sheet_of(assignments: Sequence[Assignment], terms: PrepTerms) -> PrepSheet:
    """The same for several assignments together; raises ValueError where there is none."""
    groups = [group for assignment in assignments for group in stock_groups(assignment)]
    students = current_works([a.pk for a in assignments]).count()
    return prep_lines(groups, students, terms)


def stock_groups(assignment: Assignment) -> list[StockGroup]:
    """Sets by exercise; with nobody in the section yet, none of the exercise as it is."""
    groups = [
        StockGroup(exercise, -(-len(works) // assignment.group_size))
        for exercise, works in works_by_exercise(current_works([assignment.pk]))
    ]
    return groups or [StockGroup(assignment.revision.to_core(), 0)]


def works_by_exercise(works: Iterable[Work]) -> list[tuple[Exercise, list[Work]]]:
    """Works that have the same exercise, in the order in which they come."""
    found: list[tuple[Exercise, list[Work]]] = []
    for work in works:
        exercise = work.to_core()
        same = next((group for known, group in found if known == exercise), None)
        if same is None:
            found.append((exercise, [work]))
        else:
            same.append(work)
    return found
