"""Compiling by numba, and keeping what comes of it; ``compiled`` says how it is used.

Machine code is made for any processor of the machine's kind, without instructions that only some
have: all of them compute the same. ``python -m workups.chemistry.compiled`` makes all of it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from numba import from_dtype, njit, types
from numba.core import config
from numba.core.caching import InTreeCacheLocator
from numba.extending import register_jitable

from .compiled import stamp

_SCALARS = {float: types.float64, int: types.int64, bool: types.boolean}
FOLDER = "compiled"
_STAMP_LENGTH = 16
_known = 0

config.CPU_NAME, config.CPU_FEATURES = "generic", ""


def made_of(function: Callable[..., Any], parts: list[Callable[..., Any]]) -> Callable[..., Any]:
    """A function compiled, or read from where it is kept, with the parts that it may be made of."""
    global _known  # noqa: PLW0603 (numba keeps the parts in a register of its own)
    for part in parts[_known:]:
        register_jitable(error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)(part)
    _known = len(parts)
    hints = get_type_hints(function, include_extras=True)
    hints.pop("return", None)
    signature = tuple(_numba_type(hint) for hint in hints.values())
    try:
        return _compile(function, signature, keep=True)
    except (OSError, RuntimeError):
        return _compile(function, signature, keep=False)


def _compile(
    function: Callable[..., Any], signature: tuple[Any, ...], *, keep: bool
) -> Callable[..., Any]:
    made: Callable[..., Any] = njit(
        signature, cache=keep, error_model="numpy", nogil=True)(function)
    return made


def _numba_type(hint: Any) -> Any:
    if get_origin(hint) is Annotated:
        _, element, dimensions = get_args(hint)
        return types.Array(from_dtype(element), dimensions, "C")
    if hint in _SCALARS:
        return _SCALARS[hint]
    fields = get_type_hints(hint, include_extras=True)
    return types.BaseTuple.from_types(
        tuple(_numba_type(field) for field in fields.values()), pyclass=hint)


class KeptByContent(InTreeCacheLocator):  # type: ignore[misc] # numba has no types
    """Keeps machine code in the virtual environment under a name made of all it depends on; without
    an environment in ``__pycache__`` beside the source. Reads it where nobody may write."""

    def __init__(self, function: Callable[..., Any], path: str) -> None:
        super().__init__(function, path)
        self._of = stamp(function)
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
