"""What goes onto each printed sheet: plain data put together by the caller.

A sheet carries the bench code and never a name. Dates are passed in; nothing reads a clock.
"""

import datetime
from dataclasses import dataclass

from workups.chemistry.plan import Plan
from workups.chemistry.readings import Readings
from workups.exercise.exercise import Exercise
from workups.grading.assessment import Assessment, StepReport
from workups.sheets.svg import Figure

PAPERS = ("A4", "Letter")


@dataclass(frozen=True)
class SheetHead:
    """The lines at the top of every sheet; a sheet for staff has no bench code.

    ``emergency`` is what the exercise and the course say; sheets for staff have it by part.
    """

    course: str
    section: str
    bench_code: str = ""
    date: datetime.date | None = None
    revision: str = ""
    emergency: str = ""
    paper: str = "A4"

    def __post_init__(self) -> None:
        if self.paper not in PAPERS:
            raise ValueError(f"paper {self.paper!r} is not one of {', '.join(PAPERS)}")


@dataclass(frozen=True)
class BenchSheet:
    """A student's own plan to work down, with boxes for what was really done, and its scheme on a
    page of its own where there is one."""

    head: SheetHead
    exercise: Exercise
    plan: Plan
    scheme: Figure | None = None


@dataclass(frozen=True)
class FlaskLabels:
    """Labels for every flask of a plan; ``reports`` of its steps give the hazard words."""

    head: SheetHead
    exercise: Exercise
    plan: Plan
    reports: tuple[StepReport, ...] = ()


@dataclass(frozen=True)
class GivenPoints:
    """Points of one check as the reviewer left them, with the reason where they differ."""

    check: str
    points: float
    reason: str = ""


@dataclass(frozen=True)
class YieldReport:
    """A released report. ``given`` replaces the computed points check by check.

    ``bench_plan`` is the plan that was worked down, where it was a partner's. ``struck`` are the
    readings that do not hold: what was read, its value, why it was struck out. ``answers`` are to
    the task's questions, each beside its question.
    """

    head: SheetHead
    exercise: Exercise
    plan: Plan
    readings: Readings
    assessment: Assessment
    given: tuple[GivenPoints, ...] = ()
    comment: str = ""
    with_diagnosis: bool = False
    bench_plan: Plan | None = None
    struck: tuple[tuple[str, str, str], ...] = ()
    answers: tuple[tuple[str, str], ...] = ()
