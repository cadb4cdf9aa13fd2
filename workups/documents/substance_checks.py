"""What must hold for a substance that an exercise brings along."""

from collections.abc import Iterator
from itertools import pairwise

from workups.chemistry.constants import ABSOLUTE_ZERO_C
from workups.chemistry.ownable import PARTITION
from workups.chemistry.quantity import Quantity
from workups.chemistry.setup import Setup
from workups.chemistry.substances import (
    IONISABLE_CLASSES,
    PROPERTIES,
    Antoine,
    Property,
    Substance,
)

from .errors import Path, shown
from .names import KnownNames, known_names

Complaints = Iterator[tuple[Path, str]]


def check_substance(substance: Substance, _: KnownNames | None) -> Complaints:
    """A key of its own, constants in the units of the tables, and what nothing may stand in for."""
    if substance.key in known_names():
        yield ("key",), (
            f'"{substance.key}" is in the tables already: expected another name, or use that one')
    for name, value in substance.values.items():
        yield from check_value(("values", name), value, PROPERTIES[name])
    for solvent, value in substance.partition.items():
        yield from check_value(("log10_K", solvent), value, PARTITION)
    yield from _check_pKa(substance)
    known = {"log_kow"} & substance.values.keys()
    if not known and not substance.partition and "inorganic" not in substance.classes:
        yield ("values", "log_kow"), (
            "is missing: expected log Kow or log10_K for the solvents used; without them nothing "
            'of it would go into any solvent (the class "inorganic" says that it does not)')


def check_value(path: Path, value: Quantity, known: Property) -> Complaints:
    """The unit that is reckoned with, and a size and an uncertainty that can be."""
    unit = "" if known.unit == "1" else f" {known.unit}"
    if value.unit != known.unit:
        yield (*path, "unit"), f'expected "{known.unit}", found {shown(value.unit)}'
    elif not known.low <= value.value <= known.high:
        yield (*path, "value"), (
            f"expected a {known.title} from {known.low:g} to {known.high:g}{unit}, found "
            f"{value.value:g}")
    elif value.uncertainty > known.high - known.low:
        yield (*path, "uncertainty"), (
            f"expected at most {known.high - known.low:g}{unit}, found {value.uncertainty:g}")


def _check_pKa(substance: Substance) -> Complaints:
    """Of an acid or base, in rising order; never silently taken as neutral."""
    needed = sorted(substance.classes & IONISABLE_CLASSES)
    if needed and "pKa1" not in substance.values and substance.charge_top >= 0:
        named = " and ".join(name.replace("_", " ") for name in needed)
        yield ("values", "pKa1"), (
            f"is missing: expected the pKa, because it is listed under {named}; without it the "
            "substance would be taken as neutral at every pH")
    elif substance.charge_top > len(substance.pKa):
        yield ("charge_top",), (
            f"expected at most {len(substance.pKa)}, one for each pKa, found "
            f"{substance.charge_top}")
    names = [name for name in ("pKa1", "pKa2", "pKa3") if name in substance.values]
    if names != ["pKa1", "pKa2", "pKa3"][: len(names)]:
        yield ("values",), f"expected pKa1, pKa2, pKa3 in this order, found {', '.join(names)}"
    for first, second in pairwise(names):
        if substance.values[first].value > substance.values[second].value:
            yield ("values", second, "value"), (
                f"expected at least the {substance.values[first].value:g} of {first}, found "
                f"{substance.values[second].value:g}")


def check_antoine(antoine: Antoine, _: KnownNames | None) -> Complaints:
    """A range of temperatures, in which the equation can be computed."""
    if antoine.T_min_K > antoine.T_max_K:
        yield ("T_max_K",), f"expected at least {antoine.T_min_K:g} K, found {antoine.T_max_K:g}"
    if min(antoine.T_min_K, -ABSOLUTE_ZERO_C) <= -antoine.C:
        yield ("C",), "expected T + C above 0 in the range and at 0 °C"


def check_own_substances(setup: Setup) -> Complaints:
    """Keys once, and a density where a volume of it is charged."""
    own = [substance.key for substance in setup.own_substances]
    for key in sorted({k for k in own if own.count(k) > 1}):
        yield ("substance",), f'two own substances have the key "{key}"'
    for key in sorted({m.key for m in setup.own_materials} & set(own)):
        yield ("substance", own.index(key) + 1, "key"), (
            f'"{key}" is an own solution too: expected another name')
    by_volume = {r.substance for r in setup.reaction.reagents if r.volume_mL is not None}
    for number, substance in enumerate(setup.own_substances, 1):
        if substance.key in by_volume and "density" not in substance.values:
            yield ("substance", number, "values", "density"), (
                "is missing: expected the density, because a volume of it is charged")
