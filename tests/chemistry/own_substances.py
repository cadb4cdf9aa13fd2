"""Exercises with substances of their own, for tests: a file, and a table row under another key."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from workups.chemistry.tables import tables
from workups.documents import dump_exercise, library_exercise, load_exercise
from workups.exercise.exercise import Exercise

FILE = Path(__file__).parents[1] / "data" / "exercises" / "acid-of-its-own.toml"


def from_file() -> Exercise:
    """4-Fluorobenzoic acid, which the tables do not hold, and 1,4-dimethoxybenzene."""
    return load_exercise(FILE.read_text(encoding="utf-8"))


def under_another_key(name: str, key: str, new: str) -> Exercise:
    """A library exercise in which a substance of the tables is its own, under another key.

    Written as a file and read back: every place that names the table's row names the twin.
    """
    exercise = library_exercise(name)
    setup = replace(exercise.setup, own_substances=(tables().substances[key],))
    text = dump_exercise(replace(exercise, setup=setup))
    return load_exercise(re.sub(rf'"{key}"|^{key}(?= = )', lambda found: found[0].replace(
        key, new), text, flags=re.M))
