"""How well a sign of purity fits what would be in the flask.

A share of something is noticed the more surely the larger it is; the halves below are the shares
at which one in two would note it (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.constants import GAS_CONSTANT_J_MOL_K, KELVIN_AT_0_C
from workups.chemistry.substances import Tables

from .densities import cauchy, normal
from .record import Noted
from .samples import Holding

Array = NDArray[np.float64]

HALF: Mapping[str, float] = {
    "grit": 0.01,
    "cloudy": 0.012,
    "acid": 0.01,
    "solvent": 0.03,
    "spot": 0.18,
    "band": 0.03,
}
MISSED, IMAGINED = 0.08, 0.015
_WALDEN = 56.5  # J/(mol K); Walden's rule for the entropy of fusion
_MP_LAG_C, _MP_SD_C, _MOST_DEPRESSION_C = 1.0, 2.0, 40.0
KINDS: Mapping[str, tuple[str, ...]] = {
    "appearance": ("grit", "cloudy"),
    "odour": ("acid", "solvent"),
    "TLC": ("spot",),
    "IR": ("band",),
}


def witness_likelihood(
    seen: tuple[Noted, ...], held: Holding, target: str, tables: Tables
) -> Array:
    """Probability of what was noted, draw by draw, (N,)."""
    total = np.ones(len(held.product))
    for note in seen:
        total = total * one_witness(note, held, target, tables)
    return total


def one_witness(note: Noted, held: Holding, target: str, tables: Tables) -> Array:
    """Probability (mp: density per degree) of one note, draw by draw, (N,)."""
    if note.kind == "mp":
        return _melting(note, held, target, tables)
    left = np.ones(len(held.product))
    chances = {}
    for word in KINDS[note.kind]:
        chances[word] = left * _noticed(word, held)
        left = left - chances[word]
    if note.what == "clean":
        return left
    if note.what == "off":
        return 1.0 - left
    return chances[note.what]


def _noticed(word: str, held: Holding) -> Array:
    share = _share(word, held)
    ratio = (share / HALF[word]) ** 2
    return np.asarray(IMAGINED + (1.0 - MISSED - IMAGINED) * ratio / (1.0 + ratio))


def _share(word: str, held: Holding) -> Array:
    if word == "grit":
        return held.share("agent")
    if word == "cloudy":
        return held.share("water")
    if word == "band":
        return held.share("water") + held.share("acid")
    return held.share({"acid": "acid", "solvent": "solvent", "spot": "other"}[word])


def _melting(note: Noted, held: Holding, target: str, tables: Tables) -> Array:
    """Lower end of the melting range: the tabled point less R T/Walden per share of foreign."""
    value = tables.substances[target].values.get("melting_point")
    if value is None or note.low_C is None:
        return np.ones(len(held.product))
    foreign = 1.0 - held.share("product")
    per_share = GAS_CONSTANT_J_MOL_K * (value.value + KELVIN_AT_0_C) / _WALDEN
    expected = value.value - _MP_LAG_C - np.minimum(per_share * foreign, _MOST_DEPRESSION_C)
    off = note.low_C - expected
    return np.asarray(0.9 * normal(off, _MP_SD_C) + 0.1 * cauchy(off, 10.0))
