"""Assesses a plan and a bench record from files: the whole computation without web or database."""

import json
from argparse import ArgumentParser
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from django.core.management.base import BaseCommand, CommandError

from workups.chemistry.plan import Plan
from workups.documents import (
    DocumentError,
    check_plan,
    library_exercise,
    library_names,
    load_exercise,
    load_plan,
    load_readings,
    read_text,
)
from workups.documents.assessment_json import assessment_json
from workups.documents.assessment_text import assessment_text
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess

BAD_INPUT = 2
MOST_DRAWS = 100_000
MOST_SEED = 2**31 - 1

Document = TypeVar("Document")


class Command(BaseCommand):
    help = ("Simulates and grades a plan: expected mass, every step, the checks with their "
            "findings and, with a bench record, the yield and its likeliest explanations. "
            "`format_schema` prints what the files look like.")
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("exercise", metavar="EXERCISE.toml",
                            help="exercise file, or the name of an exercise in the library")
        parser.add_argument("plan", metavar="PLAN.toml", nargs="?",
                            help="plan file (default: the exercise's model plan)")
        parser.add_argument("readings", metavar="READINGS.toml", nargs="?",
                            help="bench record (default: none)")
        parser.add_argument("--json", action="store_true", help="print JSON instead of text")
        parser.add_argument("--seed", default="1", help="seed of the random draws (default 1)")
        parser.add_argument("--draws", default="500",
                            help="random draws for the ranges (default 500)")

    def handle(self, *_args: Any, **options: Any) -> None:
        exercise = _exercise(options["exercise"])
        plan = _plan(options["plan"], exercise) if options["plan"] else None
        readings = None
        if options["readings"]:
            readings = _document(options["readings"], lambda text: load_readings(text, exercise))
        seed = _whole("--seed", options["seed"], 0, MOST_SEED)
        draws = _whole("--draws", options["draws"], 2, MOST_DRAWS)
        found = assess(exercise, plan, readings, seed=seed, draws=draws, curves=True)
        if options["json"]:
            report = json.dumps(assessment_json(found), indent=2, ensure_ascii=False)
        else:
            report = assessment_text(found, exercise)
        self.stdout.write(report)


def _exercise(name: str) -> Exercise:
    if name in library_names():
        return _named(name, lambda: library_exercise(name))
    if not Path(name).suffix and not Path(name).exists():
        listed = ", ".join(library_names())
        raise _bad_input(f"{name}: neither a file nor in the library, which holds: {listed}")
    return _document(name, load_exercise)


def _plan(name: str, exercise: Exercise) -> Plan:
    plan = _document(name, lambda text: load_plan(text, exercise))
    if not plan.steps:
        raise _bad_input(f"{name}: expected at least one step, found none")
    problems = check_plan(plan, exercise)
    if problems:
        first, more = problems[0], len(problems) - 1
        raise _bad_input(f"{name}: step {first.step_id}: {first.field}: {first.message}"
                         f"{f' (and {more} more)' if more else ''}")
    return plan


def _document(name: str, load: Callable[[str], Document]) -> Document:
    return _named(name, lambda: load(read_text(Path(name))))


def _named(name: str, read: Callable[[], Document]) -> Document:
    try:
        return read()
    except DocumentError as error:
        raise _bad_input(f"{name}: {error.first_line}") from error


def _whole(name: str, text: str | int, low: int, high: int) -> int:
    try:
        number = int(text)
    except ValueError:
        number = low - 1
    if not low <= number <= high:
        raise _bad_input(f"{name}: expected a whole number from {low} to {high}, found {text}")
    return number


def _bad_input(message: str) -> CommandError:
    one_line = " ".join(message.split())
    return CommandError(one_line, returncode=BAD_INPUT)
