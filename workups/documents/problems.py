"""Everything that is wrong with an exercise's text, as a list instead of an error."""

from functools import lru_cache

from .errors import DocumentError, Problem
from .files import load_exercise


@lru_cache(maxsize=32)
def exercise_problems(text: str) -> tuple[Problem, ...]:
    """The problems of an exercise file in file order; none where it can be used."""
    try:
        load_exercise(text)
    except DocumentError as error:
        return error.problems
    return ()
