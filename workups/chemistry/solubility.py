"""How the solubility of a solid in water changes with temperature.

    ln(S(T)/S(T0)) = -dH/R (1/T - 1/T0)        (van 't Hoff)

S solubility of the neutral form [mol/L], T [K], dH enthalpy of solution [J/mol], taken as the same
from 0 to 40 C; T0 is 25 C, at which the tables hold S. In an organic layer, where S times K holds,
the same slope is taken.

dH 25 kJ/mol for every organic solid, 9 either way (class-typical, grade B). From 0 to 25 C handbook
solubilities give 18.8 for benzoic acid (1.7 and 3.4 g/L), 18.7 for salicylic acid (1.24 and 2.48),
22 for naphthalene (13.7 and 31.7 mg/L) and 35 for caffeine (6 and 22 g/L), all from memory. A
hydrate, or a melt under water, follows no such line.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .constants import GAS_CONSTANT_J_MOL_K, KELVIN_AT_0_C

Array = NDArray[np.float64]

MEASURED_AT_C = 25.0
SOLUTION_J_MOL, SOLUTION_UNCERTAINTY_J_MOL = 25e3, 9e3


def change_of_solubility(
    solution_J_mol: Array | float, from_C: float, to_C: Array | float
) -> Array:
    """S at one temperature over S at another, for an enthalpy of solution [J/mol].

    Ice halves what water dissolves at 25 C:

    >>> round(float(change_of_solubility(18.8e3, 25.0, 0.0)), 2)
    0.5
    """
    turn = 1.0 / (to_C + KELVIN_AT_0_C) - 1.0 / (from_C + KELVIN_AT_0_C)
    return np.asarray(np.exp(-np.asarray(solution_J_mol) / GAS_CONSTANT_J_MOL_K * turn))
