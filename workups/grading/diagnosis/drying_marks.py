"""How well the recorded drying agent fits: its mass against the need, its look, the liquid's."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.drying import CLOUDY_FROM_UL_ML
from workups.chemistry.readings import DryingRecord

from .densities import log_normal, phi
from .record import DryingSeen
from .samples import DryingSample

Array = NDArray[np.float64]

AS_NEEDED, ABOUT, TOO_LITTLE, NONE = "as needed", "about as needed", "too little", "none"
_UNRECORDED: Mapping[str, float] = {AS_NEEDED: 0.2, ABOUT: 0.2, TOO_LITTLE: 0.2, NONE: 0.97}
# Where one calls it loose, and how far the computed need may be off, in the logarithm (common
# practice, no source): a bench is wetter or drier than the model, and a look is a judgement.
_ODD_LOOK, _LOOK_SD, _NEED_SD = 0.05, 0.25, 0.3
_LITTLE_FROM, _LITTLE_TO = 0.15, 0.75


def drying_likelihood(seen: DryingSeen, used: DryingSample | None, how: str) -> float:
    """Probability of a drying record (density [1/g] where a mass is on it), mean over draws.

    ``how`` the amount came about. Nothing recorded is likeliest where no agent was used.
    """
    record = seen.record
    if record is None or record.agent_mass_g is None:
        return _UNRECORDED[how]
    if used is None:
        return (1.0 - _UNRECORDED[NONE]) * 0.1
    mass = _mass_density(seen, used, how, record.agent_mass_g)
    return float(np.mean(mass * _looks(record, used)) * (1.0 - _UNRECORDED[how]))


def _mass_density(seen: DryingSeen, used: DryingSample, how: str, mass_g: float) -> Array:
    if how == TOO_LITTLE:
        share = mass_g / np.maximum(used.needed_g, 1e-6)
        edges = phi(np.log(share / _LITTLE_FROM) / 0.2) * phi(np.log(_LITTLE_TO / share) / 0.2)
        return np.asarray(edges / (_LITTLE_TO - _LITTLE_FROM) / used.needed_g)
    planned = seen.planned
    if planned is None:
        return log_normal(mass_g, 1.5 * used.needed_g, 0.6)
    if planned.endpoint == "weighed":
        about = np.full(len(used.needed_g), planned.mass_g)
        return 0.9 * log_normal(mass_g, about, 0.04) + 0.1 * log_normal(mass_g, about, 0.5)
    if how == ABOUT:
        return log_normal(mass_g, used.needed_g + 0.5 * planned.mass_g, 0.3)
    whole = np.ceil(used.needed_g / planned.mass_g) * planned.mass_g
    sd = math.hypot(0.05, 0.05 / max(mass_g, 0.05))
    near = log_normal(mass_g, whole, sd)
    about = log_normal(mass_g, whole, _NEED_SD)
    more = log_normal(mass_g, 1.4 * whole, 0.4)
    return np.asarray(0.55 * near + 0.30 * about + 0.15 * more)


def _looks(record: DryingRecord, used: DryingSample) -> Array:
    total = np.ones(len(used.needed_g))
    if record.agent_look:
        least = np.maximum(used.needed_g - 0.8 * used.loose_g, 1e-3)
        loose = phi(np.log((record.agent_mass_g or 1e-3) / least) / _LOOK_SD)
        puddle = (1.0 - loose) * (used.free_mL > 0.1)
        chance = {"free-flowing": loose, "clumped": 1.0 - loose - puddle, "puddle": puddle}
        total = total * _odd(chance.get(record.agent_look, np.full(len(loose), 1 / 3)), 3)
    if record.liquid_look:
        z = np.log(np.maximum(used.droplets_uL_mL, 1e-6) / CLOUDY_FROM_UL_ML) / 0.3
        cloudy = phi(z)
        total = total * _odd(cloudy if record.liquid_look == "cloudy" else 1.0 - cloudy, 2)
    return total


def _odd(chance: Array, outcomes: int) -> Array:
    return np.asarray((1.0 - _ODD_LOOK) * chance + _ODD_LOOK / outcomes)
