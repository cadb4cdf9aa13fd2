"""What an exercise may state for itself in place of the tables: names, units, ranges.

``Setup.values`` holds a value under the name of a practice value (``practice``) or under a name
that points into the tables, ``pKa1:SUBSTANCE``.
"""

from __future__ import annotations

from collections.abc import Mapping

from .practice import NO_SHARES, PRACTICE
from .substances import PROPERTIES, Property

ION_PAIR = "log10_Kip"
PARTITION = Property("log10 K", "1", -25.0, 25.0)
# Faster than two molecules meet in water (Smoluchowski: some 1e10 L/(mol s)) nothing reacts.
RATE = Property("rate constant", "L/(mol s)", 1e-12, 1e10)
# So many times larger or smaller than what is common a practice value may be.
_FAR = 1000.0

# By the head of a name: what it is, and what its parts name.
POINTING: Mapping[str, tuple[Property, tuple[str, ...]]] = {
    "log10_K": (PARTITION, ("substance", "solvent")),
    ION_PAIR: (Property("log10 of the ion-pair constant", "L/mol", -10.0, 10.0),
               ("substance", "ion", "solvent")),
    **{name: (PROPERTIES[name], ("substance",)) for name in ("pKa1", "pKa2", "pKa3")},
}


def ownable(name: str) -> Property | None:
    """What is stated under a name, its unit and the range that makes sense; None for no such name.

    >>> ownable("film_mL").unit, ownable("pKa1:acetic_acid").unit, ownable("film_ml")
    ('mL', '1', None)
    """
    head, _, parts = name.partition(":")
    if parts:
        return POINTING[head][0] if head in POINTING else None
    common = PRACTICE.get(name)
    if common is None:
        return None
    if common.unit == "1" and name not in NO_SHARES:
        return Property("share", "1", 0.0, 1.0)
    least = common.value / _FAR if "min" in common.unit or common.unit == "1" else 0.0
    return Property("value", common.unit, least, _FAR * common.value)
