"""What reacts as soon as it is mixed, before any layer forms."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .components import Inventory
from .hydride import hydrolysed
from .redox import destroyed

Array = NDArray[np.float64]


def turned_over_at_once(inv: Inventory, amounts: Array) -> Array:
    """Change of a mixture by what reacts at once and completely [mmol], (C, N) -> (C, N)."""
    change = destroyed(inv, amounts)
    return np.asarray(change + hydrolysed(inv, amounts + change))
