"""A run cut to its first draws, without carrying it out again: no draw depends on any other."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from .run import Outcome, Run, shared_start


def first_draws(run: Run, few: Run) -> Run:
    """A run in the draws of another that has fewer of the same; what both begin with is taken over
    from that one."""
    count = few.inventory.count
    if run.inventory.count <= count:
        return run
    shared = shared_start(few, run.steps)
    known: dict[int, Any] = {}
    rest = (Outcome(o.step, _cut(o.after, count, known), _cut(o.facts, count, known))
            for o in run.outcomes[len(shared):])
    return Run(few.inventory, few.start, (*shared, *rest))


def _cut(value: Any, count: int, known: dict[int, Any]) -> Any:
    """All arrays (..., N) within a value cut to their first draws, those it shares once."""
    if id(value) not in known:
        known[id(value)] = _made(value, count, known)
    return known[id(value)]


def _made(value: Any, count: int, known: dict[int, Any]) -> Any:
    if isinstance(value, np.ndarray):
        return np.ascontiguousarray(value[..., :count])
    if isinstance(value, Mapping):
        return {name: _cut(part, count, known) for name, part in value.items()}
    if isinstance(value, tuple):
        return tuple(_cut(part, count, known) for part in value)
    if is_dataclass(value) and not isinstance(value, type):
        return type(value)(*(_cut(getattr(value, f.name), count, known) for f in fields(value)))
    return value
