"""Theoretical yield, mass by difference, percent yield and their uncertainties.

Uncertainties follow the law of propagation of the GUM (JCGM 100:2008, 5.1.2), with rounding to
the readability as a rectangular distribution (readability/sqrt(12), JCGM 100 F.2.2.1).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from .materials import reagent_mmol
from .readings import SamplePart, TargetReadings, Weighing
from .setup import Glassware, Reagent, Setup
from .substances import Tables


@dataclass(frozen=True)
class Mass:
    """A mass [g] with its standard uncertainty [g]."""

    g: float
    u_g: float


@dataclass(frozen=True)
class Theoretical:
    """Theoretical yield of a target: limiting reagent, amount [mmol], mass [g], uncertainty."""

    limiting: str
    amount_mmol: float
    mass: Mass


@dataclass(frozen=True)
class PercentYield:
    """Percent yield with its standard uncertainty, both in per cent."""

    percent: float
    u_percent: float


def weighing_u_g(readability_g: float, repeatability_g: float | None, readings: int = 1) -> float:
    """Standard uncertainty of a weighing [g]: u^2 = (d/sqrt(12))^2 + s^2/n.

    The repeatability s, where the balance's is unknown, equals its readability d (common
    practice, no source). Averaging n readings shrinks s, not the rounding.

    >>> round(math.hypot(*[weighing_u_g(0.01, None)] * 2), 3)
    0.015
    """
    s = readability_g if repeatability_g is None else repeatability_g
    return math.sqrt(readability_g**2 / 12.0 + s**2 / max(readings, 1))


def mass_by_difference(
    weighings: Sequence[Weighing], glassware: Glassware
) -> Mass | None:
    """Mean of the settled gross readings minus that of the settled tares; None without both.

    Settled readings are the last ones that agree within twice the readability; of a falling
    series, or where another flask was taken, only the last counts.

    >>> weighings = [Weighing("tare", 52.31), Weighing("gross", 54.80), Weighing("gross", 54.79)]
    >>> mass = mass_by_difference(weighings, Glassware())
    >>> round(mass.g, 3), round(mass.u_g, 3)
    (2.485, 0.013)
    """
    tares = settled([w for w in weighings if w.kind == "tare"])
    gross = settled([w for w in weighings if w.kind == "gross"])
    if not tares or not gross:
        return None
    net = sum(w.mass_g for w in gross) / len(gross) - sum(w.mass_g for w in tares) / len(tares)
    u = math.hypot(_u(gross, glassware), _u(tares, glassware))
    return Mass(net, u)


def product_mass(
    record: TargetReadings, glassware: Glassware, at_most_g: float = math.inf
) -> Mass | None:
    """Mass by difference and the parts taken out before it, each a difference of its own [g].

    Product in two flasks is their sum: each flask number with a tare and a gross of its own
    counts. Where the sum is more than ``at_most_g``, which there can be, the product was poured
    over, and the flask that was weighed last counts alone. u^2 is the sum of the squares
    (JCGM 100, 5.1.2); None without a tare and a gross reading.
    """
    weighed = _weighed(record, glassware, at_most_g)
    if weighed is None:
        return None
    u_parts = [
        math.sqrt(2.0) * weighing_u_g(p.readability_g, glassware.balance_repeatability_g)
        for p in record.parts
    ]
    return Mass(weighed.g + taken_out_g(record.parts), math.hypot(weighed.u_g, *u_parts))


def _weighed(record: TargetReadings, glassware: Glassware, at_most_g: float) -> Mass | None:
    each = [mass_by_difference(flask, glassware) for flask in flasks_weighed(record.weighings)]
    masses = [mass for mass in each if mass is not None]
    if len(masses) < 2:
        return mass_by_difference(record.weighings, glassware)
    together = math.fsum(m.g for m in masses)
    if together + taken_out_g(record.parts) <= at_most_g:
        return Mass(together, math.hypot(*(m.u_g for m in masses)))
    return masses[-1]


def flasks_weighed(weighings: Sequence[Weighing]) -> list[tuple[Weighing, ...]]:
    """The weighings of each numbered flask that has a tare and a gross, the last gross last."""
    numbers = dict.fromkeys(
        w.flask_number for w in reversed(weighings) if w.flask_number and w.kind == "gross"
    )
    flasks = [tuple(w for w in weighings if w.flask_number == n) for n in reversed(numbers)]
    return [f for f in flasks if {w.kind for w in f} == {"tare", "gross"}]


def taken_out_g(parts: Sequence[SamplePart]) -> float:
    """What was taken out of a sample before it was weighed, together [g]."""
    return math.fsum(part.mass_g for part in parts)


def _u(weighings: Sequence[Weighing], glassware: Glassware) -> float:
    readability = max(w.readability_g for w in weighings)
    return weighing_u_g(readability, glassware.balance_repeatability_g, len(weighings))


def settled(readings: Sequence[Weighing]) -> list[Weighing]:
    """The last readings that agree with the very last within twice the readability."""
    if not readings:
        return []
    last, kept = readings[-1], [readings[-1]]
    for weighing in reversed(readings[:-1]):
        if abs(weighing.mass_g - last.mass_g) > 2.0 * last.readability_g + 1e-9:
            break
        kept.insert(0, weighing)
    return kept


def full_readings(weighings: Sequence[Weighing]) -> int:
    """How many gross readings there are; of two flasks, those of the one with fewer."""
    flasks = flasks_weighed(weighings)
    counted = flasks if len(flasks) > 1 else [weighings]
    return min(sum(w.kind == "gross" for w in flask) for flask in counted)


def is_constant(weighings: Sequence[Weighing]) -> bool | None:
    """Whether the last two gross readings agree within twice the readability; None for one.

    Where there is product in two flasks, whether that holds of each.
    """
    flasks = flasks_weighed(weighings)
    if len(flasks) > 1:
        each = {is_constant(flask) for flask in flasks}
        return False if False in each else None if None in each else True
    gross = [w for w in weighings if w.kind == "gross"]
    return None if len(gross) < 2 else len(settled(gross)) >= 2


def with_actual_amounts(setup: Setup, actual: Mapping[str, float]) -> Setup:
    """The setup with the amounts really used (g or mL, as the reagent is planned).

    Nothing at all of what takes part in the reaction gives no product to weigh: such an entry is
    a slip, and the planned amount holds.
    """
    def used(reagent: Reagent) -> Reagent:
        amount = actual.get(reagent.substance)
        if amount is None or (amount <= 0 and reagent.coefficient > 0):
            return reagent
        by_volume = reagent.mass_g is None and reagent.volume_mL is not None
        return replace(reagent, mass_g=None if by_volume else amount,
                       volume_mL=amount if by_volume else None, amount_mmol=None)
    reagents = tuple(used(r) for r in setup.reaction.reagents)
    return replace(setup, reaction=replace(setup.reaction, reagents=reagents))


def theoretical_yield(setup: Setup, tables: Tables, target: str) -> Theoretical:
    """Theoretical yield: limiting reagent by moles over coefficient, times the product's.

    Without a product line the target is isolated, not made: its own charged amount counts.
    The uncertainty is that of the limiting reagent's weighing by difference.
    """
    molar_mass = tables.substances[target].molar_mass
    product = next((p for p in setup.reaction.products if p.substance == target), None)
    if product is None:
        source = next(r for r in setup.reaction.reagents if r.substance == target)
        amount, per = reagent_mmol(source, tables), 1.0
    else:
        active = [r for r in setup.reaction.reagents if r.coefficient > 0]
        source = min(active, key=lambda r: reagent_mmol(r, tables) / r.coefficient)
        amount, per = reagent_mmol(source, tables), product.coefficient / source.coefficient
    made = amount * per
    used_g = source.mass_g or amount * _reagent_molar_mass(source, tables) * 1e-3
    glass = setup.glassware
    u_used = math.sqrt(2.0) * weighing_u_g(glass.balance_readability_g,
                                           glass.balance_repeatability_g)
    mass = made * molar_mass * 1e-3
    return Theoretical(source.substance, made, Mass(mass, mass * u_used / used_g))


def _reagent_molar_mass(reagent: Reagent, tables: Tables) -> float:
    """Molar mass [g/mol] of a reagent; of a freely named one that of its composition."""
    if not reagent.composition:
        return tables.molar_mass(reagent.substance)
    return sum(tables.molar_mass(k) * n for k, n in reagent.composition.items())


def percent_yield(found: Mass, theoretical: Mass) -> PercentYield:
    """100 m/m_theo with u/y = sqrt((u_m/m)^2 + (u_theo/m_theo)^2) (JCGM 100, 5.1.6).

    >>> found = percent_yield(Mass(2.49, 0.015), Mass(3.00, 0.0))
    >>> round(found.percent, 6), round(found.u_percent, 6)
    (83.0, 0.5)
    """
    percent = 100.0 * found.g / theoretical.g
    slope_found, slope_theory = 100.0 / theoretical.g, percent / theoretical.g
    return PercentYield(percent, math.hypot(slope_found * found.u_g,
                                            slope_theory * theoretical.u_g))
