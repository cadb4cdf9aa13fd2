"""Borohydride: it stays what it is until it meets water, and is then used up at once.

    BH4- + 3 H2O + H+  ->  B(OH)3 + 4 H2

counted as HBH4 + 3 H2O -> B(OH)3 + 4 H2 (a fully dissociated ion with the proton it displaces),
as far as there is water: 3 mol for each mol. Real borohydride takes minutes in cold neutral water
and hours in base; an upper limit of the gas is what a student has to be ready for.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .components import WATER, Inventory

Array = NDArray[np.float64]

BOROHYDRIDE = "borohydride"
WATER_PER_MOL = 3.0
MADE = {"borate": 1.0, "hydrogen": 4.0}


def hydrolysed(inv: Inventory, amounts: Array) -> Array:
    """What a mixture turns over at once [mmol], (C, N) -> (C, N); zero without both sides."""
    change = inv.none()
    if BOROHYDRIDE not in inv.index:
        return change
    there, water = amounts[inv.index[BOROHYDRIDE]], amounts[inv.index[WATER]]
    extent = np.maximum(np.minimum(there, water / WATER_PER_MOL), 0.0)
    change[inv.index[BOROHYDRIDE]] -= extent
    change[inv.index[WATER]] -= np.minimum(WATER_PER_MOL * extent, np.maximum(water, 0.0))
    for key, per_mol in MADE.items():
        change[inv.index[key]] += per_mol * extent
    return change
