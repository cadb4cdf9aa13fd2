"""Many draws computed block by block, to hold that a draw depends on no other."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.draws import Draws
from workups.chemistry.plan import Plan
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Setup

Array = NDArray[np.float64]


def in_blocks(
    plan: Plan, setup: Setup, seed: int, count: int, measure: Callable[[Run], Array],
    block: int = 2000,
) -> Array:
    """A number per draw for many draws, computed block by block to keep memory small.

    ``measure`` takes a run to (n,); the result (count,) does not depend on the block size.
    """
    parts = []
    for start in range(0, count, block):
        draws = Draws(seed, min(block, count - start), start)
        parts.append(measure(simulate(plan, setup, draws)))
    return np.concatenate(parts) if parts else np.zeros(0)
