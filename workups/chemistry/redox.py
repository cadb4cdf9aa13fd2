"""Bleach and bisulfite: they destroy each other as soon as they meet in water.

    HOCl + SO2 + H2O  ->  HCl + H2SO4

at once and completely, mole for mole (textbook). It makes two strong acids out of two weak ones,
so that the mixture turns sour. Each side is counted with all its forms in water.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .components import WATER, Inventory

Array = NDArray[np.float64]

OXIDANT, REDUCTANT = "hypochlorous_acid", "sulfur_dioxide"
MADE = ("chloride", "sulfate")


def destroyed(inv: Inventory, amounts: Array) -> Array:
    """What a mixture turns over at once [mmol], (C, N) -> (C, N); zero without both sides."""
    change = inv.none()
    if OXIDANT not in inv.index or REDUCTANT not in inv.index:
        return change
    extent = np.minimum(amounts[inv.index[OXIDANT]], amounts[inv.index[REDUCTANT]])
    for key in (OXIDANT, REDUCTANT, WATER):
        change[inv.index[key]] -= extent
    for key in MADE:
        change[inv.index[key]] += extent
    return change
