"""Extraction: textbook fractions left, distribution ratios and the pH at which they hold."""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from ..recovery import fraction_left
from ..speciation import Ionisable
from .case import HARVEY, HARVEY_MANUAL, ReferenceCase

_ONE = partial(fraction_left, 5.0, 50.0, 15.0)
_EX_7_14, _EX_7_15 = f"{HARVEY}, example 7.14", f"{HARVEY}, example 7.15"


def _portions_for(recovered: float) -> float:
    """Portions of 15 mL out of 50 mL of water at D = 5 that recover a share, not rounded."""
    return math.log(1.0 - recovered) / math.log(_ONE(1))


def _volume_for(recovered: float, D: float, water_mL: float) -> float:
    """One portion [mL] that recovers a share, by bisection of ``fraction_left``."""
    low, high = 0.0, 1e9
    for _ in range(200):
        middle = 0.5 * (low + high)
        enough = fraction_left(D, water_mL, middle, 1) <= 1.0 - recovered
        low, high = (low, middle) if enough else (middle, high)
    return high


def distribution_ratio(K: float, pKa: float, pH: float) -> float:
    """D = K alpha_neutral of a monoprotic acid."""
    acid = Ionisable(0, 0, np.array([[10.0**-pKa]]))
    return K * float(acid.neutral_share(np.array([10.0**-pH]))[0])


def _pH_for(D: float, K: float, pKa: float) -> float:
    low, high = 0.0, 14.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = ((middle, high) if distribution_ratio(K, pKa, middle) > D else (low, middle))
    return high


CASES: tuple[ReferenceCase, ...] = (
    ReferenceCase("one extraction", "share left in the water", "1", 0.400, 5e-4, _EX_7_14,
                  lambda: _ONE(1)),
    ReferenceCase("one extraction", "left in the water", "mol/L", 0.0200, 5e-5, _EX_7_14,
                  lambda: 0.050 * _ONE(1)),
    ReferenceCase("one extraction", "in the organic layer", "mol/L", 0.100, 5e-4, _EX_7_14,
                  lambda: 0.050 * (1.0 - _ONE(1)) * 50.0 / 15.0),
    ReferenceCase("one extraction", "solvent for 99.9 %", "mL", 9990.0, 0.5, _EX_7_14,
                  lambda: _volume_for(0.999, 5.0, 50.0)),
    ReferenceCase("two portions", "share left", "1", 0.160, 5e-4, _EX_7_15, lambda: _ONE(2)),
    ReferenceCase("three portions", "share left", "1", 0.0640, 5e-5, _EX_7_15, lambda: _ONE(3)),
    ReferenceCase("portions for 99.9 %", "number", "1", 7.54, 5e-3, _EX_7_15,
                  lambda: _portions_for(0.999)),
    ReferenceCase("portions for 99.9 %", "whole portions", "1", 8.0, 0.0, _EX_7_15,
                  lambda: float(math.ceil(_portions_for(0.999)))),
    ReferenceCase("weak acid, K 1200, pKa 5.00", "D for 99.9 % in one portion", "1", 999.0, 0.5,
                  f"{HARVEY_MANUAL}, chapter 7, problem 25",
                  lambda: distribution_ratio(1200.0, 5.0, -math.log10(4.9701e-5))),
    ReferenceCase("weak acid, K 1200, pKa 5.00", "highest pH", "1", 4.30, 5e-3,
                  f"{HARVEY_MANUAL}, chapter 7, problem 25",
                  lambda: _pH_for(999.0, 1200.0, 5.0)),
    ReferenceCase("hyoscyamine, ether and water", "share extracted", "%", 80.3, 0.05,
                  "course handout; K from the solubilities 1.44 and 0.354 g per 100 mL",
                  lambda: 100.0 * (1.0 - fraction_left(1.44 / 0.354, 150.0, 150.0, 1))),
    ReferenceCase("iodine, K 85, one portion", "left of 0.1 g", "g", 0.002299, 5e-7,
                  "arithmetic: 0.1 x 50/(50 + 85 x 25)",
                  lambda: 0.1 * fraction_left(85.0, 50.0, 25.0, 1)),
    ReferenceCase("iodine, K 85, three portions", "left of 0.1 g", "g", 2.87e-5, 5e-8,
                  "arithmetic; the often repeated 1.45e-5 g is wrong",
                  lambda: 0.1 * fraction_left(85.0, 50.0, 25.0 / 3.0, 3)),
)
