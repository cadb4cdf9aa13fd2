"""Exercises, plans and bench records as files of our own, and as data for the database."""

from .data import (
    assessment_from_data,
    assessment_to_data,
    plan_from_data,
    plan_to_data,
    readings_from_data,
    readings_to_data,
    step_from_data,
    step_to_data,
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
]
