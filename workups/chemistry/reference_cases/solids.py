"""Solubility with temperature: handbook values at 0 and 25 C."""

from __future__ import annotations

from ..solubility import SOLUTION_J_MOL, change_of_solubility
from .case import ReferenceCase

_HANDBOOK = "handbook solubilities in water, from memory"
_CLASS = "one slope for all organic solids, 9 kJ/mol either way: a factor of 1.4"


def _at_ice() -> float:
    return float(change_of_solubility(SOLUTION_J_MOL, 25.0, 0.0))


CASES: tuple[ReferenceCase, ...] = (
    ReferenceCase("benzoic acid, 0 C", "of what dissolves at 25 C", "1", 1.7 / 3.4, 0.2,
                  _HANDBOOK, _at_ice, _CLASS),
    ReferenceCase("salicylic acid, 0 C", "of what dissolves at 25 C", "1", 1.24 / 2.48, 0.2,
                  _HANDBOOK, _at_ice, _CLASS),
    ReferenceCase("naphthalene, 0 C", "of what dissolves at 25 C", "1", 13.7 / 31.7, 0.2,
                  _HANDBOOK, _at_ice, _CLASS),
    ReferenceCase("caffeine, 0 C", "of what dissolves at 25 C", "1", 6.0 / 22.0, 0.2,
                  _HANDBOOK, _at_ice, _CLASS),
)
