"""Densities used by the likelihoods: normal, with a broad floor for what nobody thought of."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.compiled import inner

Array = NDArray[np.float64]

_ROOT_TWO_PI = math.sqrt(2.0 * math.pi)


@inner
def normal(x: Any, sd: Any) -> Any:
    """Density of a normal deviate about zero, in 1/unit of ``sd``."""
    z = x / sd
    return np.exp(-0.5 * z * z) / (sd * _ROOT_TWO_PI)


def phi(z: Array) -> Array:
    """Standard normal distribution function, by the error function."""
    flat = [0.5 * math.erfc(-float(v) / math.sqrt(2.0)) for v in np.ravel(z)]
    return np.asarray(flat, dtype=np.float64).reshape(np.shape(z))


def log_normal(x: float, about: Array, sd: float) -> Array:
    """Density at ``x`` of a log-normal about ``about`` with ``sd`` in the logarithm, 1/unit of x.

    Zero where ``x`` is not positive.
    """
    if x <= 0:
        return np.zeros_like(about)
    return np.asarray(normal(np.log(x) - np.log(np.maximum(about, 1e-12)), sd) / x)


@inner
def cauchy(x: Any, scale: Any) -> Any:
    """Density of a Cauchy deviate about zero: the heavy tail."""
    z = x / scale
    return 1.0 / (math.pi * scale * (1.0 + z * z))


def bandwidth(values: Array, draws: int) -> float:
    """Kernel width for a density from draws: 1.06 s n^(-1/5) (the normal reference rule)."""
    return float(1.06 * np.std(values) * draws**-0.2)


def flask_density(mass_g: float) -> float:
    """How ordinary a mass is for an empty flask or vial [1/g]: even in the logarithm, 3 to 300 g.

    A little is left for anything else.
    """
    even = 1.0 / (max(abs(mass_g), 1e-3) * math.log(100.0))
    return even if 3.0 <= mass_g <= 300.0 else 1e-4 * even
