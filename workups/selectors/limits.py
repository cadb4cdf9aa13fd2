"""What the simulation leaves out, with the exercises of the library that each effect touches."""

from dataclasses import dataclass
from functools import lru_cache

from workups.documents import library_exercise, library_names
from workups.explanation.left_out import LEFT_OUT, LeftOut


@dataclass(frozen=True)
class LimitLine:
    """An effect that is left out, and the titles of the library's exercises that it touches."""

    effect: LeftOut
    exercises: tuple[str, ...]
    is_everywhere: bool


@lru_cache(maxsize=1)
def limit_lines() -> tuple[LimitLine, ...]:
    """All effects in their order."""
    library = [library_exercise(name) for name in library_names()]
    found = []
    for effect in LEFT_OUT:
        titles = tuple(e.title for e in library if effect.touches(e))
        found.append(LimitLine(effect, titles, len(titles) == len(library)))
    return tuple(found)
