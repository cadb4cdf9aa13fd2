"""Sums that do not depend on how many draws are computed together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


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
