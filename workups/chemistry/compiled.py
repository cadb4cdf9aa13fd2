"""Straight code for one draw, in plain floats, compiled to machine code (numba).

``entry`` marks what the rest of the program calls, for the types its annotations name; ``inner``
marks what entries are made of; called from Python it is plain Python, on numbers or arrays alike.
``NUMBA_DISABLE_JIT=1`` in the environment runs all of it as plain Python.

The machine code is kept in the virtual environment under a name made of all that it depends on
(``stamp``), so that it is compiled once and read thereafter; ``.ci/setup`` sees to that, and an
installation that nobody can write to reads what is there. Reading takes more than a second, and so
does the compiler itself (``machine_code``): it is left to the first call, and a process that
computes nothing does without. A server reads all before its first request (``load_all``).
"""

from __future__ import annotations

import hashlib
import importlib
import os
import types as python_types
from collections.abc import Callable, Iterator
from functools import cached_property
from typing import Annotated, Any, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

F = TypeVar("F", bound=Callable[..., Any])

# Arrays as entries take them, with the type of an element and the dimensions: all in C order.
Vector = Annotated[NDArray[np.float64], np.dtype("f8"), 1]
Table = Annotated[NDArray[np.float64], np.dtype("f8"), 2]
Cube = Annotated[NDArray[np.float64], np.dtype("f8"), 3]
Flags = Annotated[NDArray[np.bool_], np.dtype("?"), 1]

IS_PLAIN_PYTHON = os.environ.get("NUMBA_DISABLE_JIT", "0") != "0"
_INNER = "is_inner"
_parts: list[Callable[..., Any]] = []
_entries: list[Entry] = []


def inner(function: F) -> F:
    """A part of compiled code; from Python it runs as it stands."""
    function.__dict__[_INNER] = True
    _parts.append(function)
    return function


class Entry:
    """A function that is read or compiled at its first call, or when asked for its ``code``, which
    then stands in its place."""

    def __init__(self, function: Callable[..., Any]) -> None:
        self.py_func = function

    def __call__(self, *arguments: Any) -> Any:
        """Call what was compiled."""
        return self.code(*arguments)

    @cached_property
    def code(self) -> Any:
        """What was compiled."""
        from .machine_code import made_of  # takes longer than what most processes do

        made = made_of(self.py_func, _parts)
        self.py_func.__globals__[self.py_func.__name__] = made
        return made


def entry(function: F) -> F:
    """What the rest of the program calls, for the types that its annotations name."""
    _entries.append(Entry(function))
    return cast(F, _entries[-1])


def records(count: int, dtype: np.dtype[np.void]) -> NDArray[np.void]:
    """So many records full of zeros; compiled code copies them. Run as plain Python, it finds their
    fields as attributes, which costs a call of compiled code more than most calls take."""
    made = np.zeros(count, dtype)
    return made.view(np.recarray) if IS_PLAIN_PYTHON else made


def stamp(function: Callable[..., Any]) -> str:
    """Of everything compiled code depends on: its own, its parts', and the numbers they name."""
    known = hashlib.sha256()
    for line in _ingredients(function, set()):
        known.update(line.encode())
    return known.hexdigest()


def _ingredients(function: Callable[..., Any], seen: set[str]) -> Iterator[str]:
    code = function.__code__
    seen.add(name_of(function))
    consts = [c for c in code.co_consts if c != function.__doc__]
    yield f"{name_of(function)}\0{function.__annotations__}\0{code.co_code.hex()}\0{consts}"
    for name in code.co_names:
        value = function.__globals__.get(name)
        if isinstance(value, int | float | str | tuple | np.dtype):
            yield f"{name}={value!r}"
        elif isinstance(value, type) and hasattr(value, "_fields"):
            yield f"{name}={value.__annotations__}"
        elif isinstance(value, python_types.FunctionType) and _INNER in value.__dict__ and (
                name_of(value) not in seen):
            yield from _ingredients(value, seen)


def name_of(function: Callable[..., Any]) -> str:
    """Module and name of a function."""
    return f"{function.__module__}.{function.__qualname__}"


# Who imports these has imported every entry.
WITH_ALL_ENTRIES = ("workups.chemistry.run", "workups.grading.diagnosis.weighing")


def load_all() -> None:
    """Read or compile every entry now."""
    for module in WITH_ALL_ENTRIES:
        importlib.import_module(module)
    for each in _entries:
        _ = each.code


if __name__ == "__main__":
    importlib.import_module("workups.chemistry.compiled").load_all()
