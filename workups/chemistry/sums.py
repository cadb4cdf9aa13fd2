"""Sums that do not depend on how many draws are computed together, shares of amounts, and ends of
bands."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_NOTHING = 1e-200
_HALF = 0.5


def over_rows(terms: Array) -> Array:
    """Sum of (rows, N) over its rows in their order, (N,).

    For a single draw, and along the memory's own direction, numpy would add in another order
    than for many, and round differently.

    >>> over_rows(np.array([[1.0, 2.0], [3.0, 4.0]])).tolist()
    [4.0, 6.0]
    """
    if terms.shape[1] == 1 and terms.shape[0] > 1:
        return np.asarray(np.add.accumulate(terms, axis=0)[-1])
    return np.asarray(np.add.reduce(np.ascontiguousarray(terms), axis=0))


def share_of(part: Array, whole: Array, of_nothing: float | Array = 0.0) -> Array:
    """``part / whole`` in each draw, ``of_nothing`` where the whole is nothing, (N,).

    What exponentials leave of an amount can be 1e-310, by which no share can be divided.

    >>> share_of(np.array([1.0, 1.0, 1.0]), np.array([4.0, 0.0, 1e-310])).tolist()
    [0.25, 0.0, 0.0]
    """
    there = whole > _NOTHING
    return np.asarray(np.where(there, part / np.where(there, whole, 1.0), of_nothing))


def percentile(values: Array, percent: float) -> float:
    """A percentile over the draws, (N,), between two of them as ``numpy.percentile`` has it and to
    the last bit the same, in a fifth of its time; NaN where one is no number.

    >>> percentile(np.array([4.0, 1.0, 2.0, 3.0]), 95.0)
    3.8499999999999996
    """
    inside, last = np.sort(values), len(values) - 1
    at = last * (percent / 100.0)
    below = int(at)
    low, high, part = inside[below], inside[min(below + 1, last)], at - below
    if np.isnan(inside[last]):
        return math.nan
    return float(low + (high - low) * part if part < _HALF else high - (high - low) * (1.0 - part))
