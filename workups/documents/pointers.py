"""Reading and changing plain data by pointers (as JSON pointers are), whatever stands there.

A path is keys and positions (from 1), as in ``Problem.where``: ``("reaction", "reagent", 2,
"mass_g")``. Data under way may have any shape: a path that leads through something that is no
table or list finds nothing, and putting a value there replaces what was in the way.
"""

from itertools import pairwise
from typing import Any, Final

from .errors import Path


class _Missing:
    """Stands for what is not there."""

    def __repr__(self) -> str:
        return "MISSING"


MISSING: Final = _Missing()


def value_at(data: Any, path: Path) -> Any:
    """What stands at a path, MISSING where nothing does."""
    for part in path:
        if isinstance(part, int):
            if not isinstance(data, list) or not 1 <= part <= len(data):
                return MISSING
            data = data[part - 1]
        elif isinstance(data, dict) and part in data:
            data = data[part]
        else:
            return MISSING
    return data


def items_at(data: Any, path: Path) -> list[Any]:
    """The list at a path; empty where there is none."""
    found = value_at(data, path)
    return found if isinstance(found, list) else []


def put(data: dict[str, Any], path: Path, value: Any) -> None:
    """Put a value at a path. A position one beyond the end adds an item."""
    here: Any = data
    for part, following in pairwise(path):
        here = _entered(here, part, list if isinstance(following, int) else dict)
    if isinstance(path[-1], int):
        _set_item(here, path[-1], value)
    else:
        here[path[-1]] = value


def take_away(data: dict[str, Any], path: Path) -> None:
    """Remove what stands at a path, and tables that are empty then; nothing if it is not there."""
    around = value_at(data, path[:-1])
    if value_at(data, path) is MISSING:
        return
    if isinstance(path[-1], int):
        del around[path[-1] - 1]
    else:
        del around[path[-1]]
    if not around and path[:-1] and isinstance(path[-2], str):
        take_away(data, path[:-1])


def _entered(here: Any, part: str | int, kind: type) -> Any:
    inner = value_at(here, (part,))
    if not isinstance(inner, kind):
        inner = kind()
        if isinstance(part, int):
            _set_item(here, part, inner)
        else:
            here[part] = inner
    return inner


def _set_item(items: list[Any], number: int, value: Any) -> None:
    if number <= len(items):
        items[number - 1] = value
    else:
        items.append(value)
