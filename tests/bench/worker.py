"""Works for ``tests.bench.against`` in whichever tree it is started, of this state or an older one:
reads lines of words, answers each with a line."""

from __future__ import annotations

import importlib
import os
import resource
import sys
import time
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path.cwd()))

DRAWS, FEW, SEED = 500, 48, 1
SAME_PLACES = (("workups.invented_students", "workups.grading.students"),)


def _module(*names: str) -> Any:
    """The first of the modules that there is in this tree."""
    for name in names:
        try:
            return importlib.import_module(name)
        except ModuleNotFoundError:
            continue
    raise ModuleNotFoundError(names)


_assess = _module("workups.grading.assess").assess
_library = _module("workups.documents.library")
_bench = _module("tests.bench.grading")
_students = _module(*SAME_PLACES[0])
_model_run = _module("workups.grading.modelrun").model_run


@cache
def _exercise(name: str) -> Any:
    exercise = _library.library_exercise(name)
    for draws in (DRAWS, FEW):
        _model_run(exercise, SEED, draws)
    return exercise


@cache
def _plans(name: str) -> Mapping[str, Any]:
    return {key.replace(" ", "-"): plan for key, plan in _bench.plans(_exercise(name))}


@cache
def _student(name: str, number: int) -> Any:
    return _students.simulate_student(_exercise(name), number)


def plans(name: str) -> str:
    """Names of all plans of an exercise."""
    return " ".join(_plans(name))


def check(name: str, plan: str) -> str:
    """Seconds that a self-check of a plan takes."""
    exercise, asked = _exercise(name), _plans(name)[plan]
    return _seconds(lambda: _assess(exercise, asked, None, seed=SEED, draws=DRAWS))


def full(name: str, number: str) -> str:
    """Seconds that the assessment of an invented student's record takes."""
    exercise, made = _exercise(name), _student(name, int(number))
    return _seconds(lambda: _assess(
        exercise, made.plan, made.readings, seed=SEED, draws=DRAWS))


def class_(name: str, count: str) -> str:
    """Seconds that a class takes by a seed that was never drawn, model run and all."""
    exercise, seed = _exercise(name), 1000 + SEED
    made = [_student(name, number) for number in range(int(count))]
    return _seconds(lambda: [_assess(
        exercise, one.plan, one.readings, seed=seed, draws=DRAWS) for one in made])


_checked: list[str] = []


def memory(many: str) -> str:
    """Most memory [MB] of this process once it has checked so many plans, as pages do it."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labcourse.settings")
    importlib.import_module("django").setup()
    services = importlib.import_module("workups.services.assessments")
    names = _library.library_names()
    while len(_checked) < int(many):
        number, name = len(_checked), names[len(_checked) % len(names)]
        plan = _library.library_exercise(name).model_plan
        steps = tuple(_other(step, number) if step.verb == "dry" else step for step in plan.steps)
        services._assess_publicly(_library.library_text(name), type(plan)(steps), SEED, DRAWS)
        _checked.append(name)
    return f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0:.1f}"


def _other(step: Any, number: int) -> Any:
    """A drying by which a plan differs from every other one."""
    return importlib.import_module("dataclasses").replace(step, minutes=5.0 + number / 100.0)


def _seconds(work: Any) -> str:
    began = time.process_time()
    work()
    return f"{time.process_time() - began:.6f}"


_ANSWERS = {"plans": plans, "check": check, "full": full, "class": class_, "memory": memory}


if __name__ == "__main__":
    for line in sys.stdin:
        verb, *words = line.split()
        print(_ANSWERS[verb](*words), flush=True)  # noqa: T201
