"""Magnesium hydroxide: a gel that comes out where magnesium meets a basic water layer.

    Mg(OH)2 = Mg2+ + 2 OH-      [Mg2+] [OH-]^2 = K_sp

so no more than K_sp h^2/K_w^2 stays dissolved at h = [H+]. At 0.05 mol/L of magnesium that is
reached at pH 9.2. Ammonium keeps the pH below it, acid dissolves the gel again. What the gel holds
back and how it slows the layers are practice values.

K_sp: log10 -10.88 at 25 C (brucite, pitzer.dat of PHREEQC); a fresh gel may be up to ten times
more soluble (from memory), which moves the pH by half a unit. The gel's own water is not counted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .constants import KW

Array = NDArray[np.float64]

LOG10_KSP = -10.88
MAGNESIUM = "magnesium"
_PER_H2 = 10.0**LOG10_KSP / KW**2


def most_dissolved(h: Array | float) -> Array:
    """The most magnesium that stays dissolved at [H+] = h [mol/L], mol/L.

    >>> round(float(most_dissolved(10.0**-9.21)), 3)
    0.05
    """
    return np.asarray(_PER_H2 * np.square(h))


@dataclass(frozen=True)
class Gel:
    """Magnesium in a water layer, dissolved and solid together: mol per litre of it, (N,)."""

    concentration: Array

    def taken_out(self, h: Array) -> tuple[Array, Array]:
        """Charge that the solid takes out of the water [mol/L], and how it falls with ln h."""
        most = most_dissolved(h)
        out = self.concentration > most
        return (np.where(out, 2.0 * (self.concentration - most), 0.0),
                np.where(out, 4.0 * most, 0.0))
