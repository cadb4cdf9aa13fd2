"""Magnesium hydroxide: a gel that comes out where magnesium meets a basic water layer.

    Mg(OH)2 = Mg2+ + 2 OH-      [Mg2+] [OH-]^2 = K_sp

so no more than K_sp h^2/K_w^2 stays dissolved at h = [H+]. At 0.05 mol/L of magnesium that is
reached at pH 9.2. Ammonium keeps the pH below it, acid dissolves the gel again. What the gel holds
back and how it slows the layers are practice values.

K_sp: log10 -10.88 at 25 C (brucite, pitzer.dat of PHREEQC); a fresh gel may be up to ten times
more soluble (from memory), which moves the pH by half a unit: the 95th percentile of what is drawn,
the 5th hardly below brucite. The gel's own water is not counted.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .compiled import inner
from .constants import KW
from .draws import Draws

Array = NDArray[np.float64]

LOG10_KSP, LEAST_LOG10_KSP, MOST_LOG10_KSP = -10.88, -11.0, -9.88
MAGNESIUM = "magnesium"


def solubility_product(draws: Draws) -> Array:
    """K_sp [mol3/L3], (N,)."""
    log10 = draws.spread("log10_Ksp:magnesium_hydroxide", LEAST_LOG10_KSP, LOG10_KSP,
                         MOST_LOG10_KSP)
    return np.asarray(10.0**log10)


@inner
def most_dissolved(h: Any, product: Any = 10.0**LOG10_KSP) -> Any:
    """The most magnesium that stays dissolved at [H+] = h [mol/L] and a K_sp, mol/L.

    >>> round(most_dissolved(10.0**-9.21), 3)
    0.05
    """
    return product / KW**2 * (h * h)
