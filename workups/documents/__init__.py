"""Exercises, plans and bench records as files of our own, and as data for the database.

``shapes`` derives from the dataclasses, whose fields declare themselves (``chemistry/fields.py``),
what a document holds: one description for reading, writing, the printed schema and the author form.
``decode`` reads with a problem for every wrong place, by path (``problems``, ``pointers``);
``encode`` writes; ``rewrite`` changes single values in a text and leaves comments, order and
spelling of the rest. ``usable`` takes of an unfinished exercise what can
be carried out already. ``differences`` says in sentences what two exercises differ in.

A new field of an exercise is declared in its dataclass (in ``exercise/exercise.py`` or
``chemistry/setup.py``) with label, help, unit, bounds and choices: nothing else, unless students
may not know it; then it gets its public number in ``exercise/public.py``.
``tests/documents/test_new_field.py`` declares some, and a list of tables, and watches them arrive.
"""

from .data import (
    assessment_from_data,
    assessment_to_data,
    plan_from_data,
    plan_to_data,
    readings_from_data,
    readings_to_data,
    step_from_data,
    step_to_data,
    verdict_from_data,
)
from .errors import DocumentError, Problem
from .files import (
    dump_exercise,
    dump_plan,
    dump_readings,
    load_exercise,
    load_plan,
    load_readings,
)
from .library import library_exercise, library_names, library_text
from .names import known_names
from .plan_check import PlanProblem, check_plan, flasks_before
from .toml_text import read_text, text_of

__all__ = [
    "DocumentError", "PlanProblem", "Problem", "assessment_from_data", "assessment_to_data",
    "check_plan", "dump_exercise", "dump_plan", "dump_readings", "flasks_before", "known_names",
    "library_exercise", "library_names", "library_text", "load_exercise", "load_plan",
    "load_readings", "plan_from_data", "plan_to_data", "read_text", "readings_from_data",
    "readings_to_data", "step_from_data", "step_to_data", "text_of",
    "verdict_from_data",
]
