"""Physical constants, each in one place, with its unit and where it comes from.

Only what belongs to nature or to a definition stands here. What belongs to a substance is in
``data/``, what belongs to a bench in ``practice``, what people agreed to call too much or too
little in ``limits``. ``reference_cases`` and the tests have numbers of their own, on purpose.
"""

from __future__ import annotations

# CODATA 2018, exact since the SI of 2019.
GAS_CONSTANT_J_MOL_K = 8.314462618
# Definitions.
ATMOSPHERE_PA = 101325.0
MBAR_PA = 100.0
KELVIN_AT_0_C = 273.15
ABSOLUTE_ZERO_C = -KELVIN_AT_0_C
# Ion product of water at 25 C, (mol/L)^2; 13.995 in tables, taken as 14 (textbook).
KW = 1.0e-14
# IUPAC atomic weights; the same as in substances.csv, which a test holds it against.
WATER_G_MOL = 18.015
# Hydrogen, 1.00783, less an electron (from memory).
PROTON_G_MOL = 1.00728
