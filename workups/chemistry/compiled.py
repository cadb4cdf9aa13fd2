"""Straight code for one draw, in plain floats, compiled to machine code (numba).

``entry`` marks what the rest of the program calls: it is compiled for the types its annotations
name when its module is imported, and never later. ``inner`` marks what entries are made of; called
from Python it is plain Python, on numbers or arrays alike. ``NUMBA_DISABLE_JIT=1`` in the
environment runs all of it as plain Python.

The machine code is kept in the virtual environment under a name made of all that it depends on
(``_stamp``), so that it is compiled once and read thereafter; ``.ci/setup`` sees to that, and an
installation that nobody can write to reads what is there. It is made for any processor of the
machine's kind, without instructions that only some have: all of them compute the same.
"""

from __future__ import annotations

import hashlib
import importlib
import os
import sys
import types as python_types
from collections.abc import Callable, Iterator
from typing import Annotated, Any, TypeVar, get_args, get_origin, get_type_hints

import numpy as np
from numba import njit, types
from numba.core import config
from numba.core.caching import InTreeCacheLocator
from numba.extending import register_jitable
from numpy.typing import NDArray

F = TypeVar("F", bound=Callable[..., Any])

# Arrays as entries take them: all in C order.
Vector = Annotated[NDArray[np.float64], types.float64[::1]]
Table = Annotated[NDArray[np.float64], types.float64[:, ::1]]
Cube = Annotated[NDArray[np.float64], types.float64[:, :, ::1]]
Flags = Annotated[NDArray[np.bool_], types.boolean[::1]]

_SCALARS = {float: types.float64, int: types.int64, bool: types.boolean}
FOLDER, _INNER = "compiled", "is_inner"
_STAMP_LENGTH = 16

config.CPU_NAME, config.CPU_FEATURES = "generic", ""


def inner(function: F) -> F:
    """A part of compiled code; from Python it runs as it stands."""
    registered: F = register_jitable(
        error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)(function)
    registered.__dict__[_INNER] = True
    return registered


def entry(function: F) -> F:
    """Compiled now, or read from where it is kept, for the types that its annotations name."""
    hints = get_type_hints(function, include_extras=True)
    hints.pop("return", None)
    signature = tuple(_numba_type(hint) for hint in hints.values())
    try:
        return _compile(function, signature, keep=True)
    except (OSError, RuntimeError):
        return _compile(function, signature, keep=False)


def _compile(function: F, signature: tuple[Any, ...], *, keep: bool) -> F:
    made: F = njit(signature, cache=keep, error_model="numpy", nogil=True)(function)
    return made


def records(count: int, dtype: np.dtype[np.void]) -> NDArray[np.void]:
    """So many records full of zeros; compiled code copies them. Run as plain Python, it finds their
    fields as attributes, which costs a call of compiled code more than most calls take."""
    made = np.zeros(count, dtype)
    return made.view(np.recarray) if config.DISABLE_JIT else made


def _numba_type(hint: Any) -> Any:
    if get_origin(hint) is Annotated:
        return get_args(hint)[1]
    if hint in _SCALARS:
        return _SCALARS[hint]
    fields = get_type_hints(hint, include_extras=True)
    return types.BaseTuple.from_types(
        tuple(_numba_type(field) for field in fields.values()), pyclass=hint)


def _stamp(function: Callable[..., Any]) -> str:
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


class KeptByContent(InTreeCacheLocator):  # type: ignore[misc] # numba has no types
    """Keeps machine code in the virtual environment under a name made of all it depends on; without
    an environment in ``__pycache__`` beside the source. Reads it where nobody may write."""

    def __init__(self, function: Callable[..., Any], path: str) -> None:
        super().__init__(function, path)
        self._of = _stamp(function)
        if sys.prefix != sys.base_prefix:
            self._cache_path = os.path.join(sys.prefix, FOLDER)

    def get_source_stamp(self) -> str:
        """What the kept code has to be made of."""
        return self._of

    def get_disambiguator(self) -> str:
        """What tells one state of the source from another."""
        return self._of[:_STAMP_LENGTH]

    def ensure_cache_path(self) -> None:
        """Refuse a folder only where it can be neither read nor written."""
        try:
            super().ensure_cache_path()
        except OSError:
            os.listdir(self.get_cache_path())


config.CACHE_LOCATOR_CLASSES = f"{__name__}.{KeptByContent.__name__}"


# Who imports these has imported, and so compiled, every entry.
WITH_ALL_ENTRIES = ("workups.chemistry.run", "workups.grading.diagnosis.weighing")

if __name__ == "__main__":
    for _module in WITH_ALL_ENTRIES:
        importlib.import_module(_module)
