"""From a bottle to components: what a volume of a solvent, solution or reagent holds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from .components import WATER
from .inventory import Inventory
from .setup import Reagent, Setup
from .state import Flask, empty_flask
from .substances import Tables

Array = NDArray[np.float64]



class UnknownMaterial(KeyError):
    """A step uses something that is not on the exercise's list of materials."""


def components_per_mL(inv: Inventory, key: str) -> Array:
    """What 1 mL of a liquid holds [mmol], (C,). A solution is filled up with water by mass."""
    held = np.zeros(len(inv.keys))
    own = next((m for m in inv.setup.own_materials if m.key == key), None)
    if own is not None:
        return _solution(inv, own.components, own.density_g_mL)
    if key in inv.tables.solutions:
        solution = inv.tables.solutions[key]
        return _solution(inv, solution.components, solution.density.value)
    if key in inv.index:
        held[inv.index[key]] = 1.0 / inv.molar_volume[inv.index[key]]
        return held
    raise UnknownMaterial(f"{key!r} is not among the materials of this exercise")


def dissolved_g(components: Mapping[str, float], tables: Tables) -> float:
    """What the components of a mL of a solution weigh [g]; the rest of it is water."""
    return sum(amount * tables.counted_mass(key) for key, amount in components.items()) * 1e-3


def _solution(inv: Inventory, components: Mapping[str, float], density: float) -> Array:
    held = np.zeros(len(inv.keys))
    for name, amount in components.items():
        held[inv.index[name]] = amount
    water_g = density - dissolved_g(components, inv.tables)
    if water_g < 0:
        raise ValueError("a solution's components weigh more than the solution")
    held[inv.water] += water_g / inv.molar_mass[inv.water] * 1e3
    return held


def is_solvent(inv: Inventory, key: str) -> bool:
    """Whether a liquid forms or joins the organic layer when poured in."""
    return key in inv.solvents


def poured(inv: Inventory, key: str, volume_mL: float) -> Flask:
    """A portion of a liquid as the contents of a flask of its own."""
    amounts = np.repeat((components_per_mL(inv, key) * volume_mL)[:, None], inv.count, axis=1)
    flask = empty_flask(inv)
    if is_solvent(inv, key):
        return Flask(amounts, flask.droplets, flask.aqueous, flask.solid, celsius=inv.room_C)
    return Flask(flask.organic, flask.droplets, amounts, flask.solid, celsius=inv.room_C)


def reagent_mmol(reagent: Reagent, tables: Tables) -> float:
    """Planned amount of a reagent [mmol] from its mass, volume or amount."""
    if reagent.amount_mmol is not None:
        return reagent.amount_mmol
    mass = reagent.mass_g
    if mass is None:
        if reagent.volume_mL is None:
            raise ValueError(f"{reagent.substance}: neither mass, volume nor amount is given")
        mass = reagent.volume_mL * tables.substances[reagent.substance].values["density"].value
    return mass * reagent.purity / tables.molar_mass(reagent.substance) * 1e3


def reagent_parts(reagent: Reagent, tables: Tables) -> Mapping[str, float]:
    """Components of a reagent, mol per mol: as stated, else of the substance or salt."""
    return reagent.composition or tables.parts(reagent.substance)


def charged(inv: Inventory, setup: Setup) -> Array:
    """Everything charged before the reaction [mmol], (C, N)."""
    total = inv.none()
    for key, amount in charged_mmol(setup).items():
        total[inv.index[key]] = amount
    return total


def charged_mmol(setup: Setup) -> Mapping[str, float]:
    """Each component of everything charged before the reaction [mmol]."""
    total: defaultdict[str, float] = defaultdict(float)
    for reagent in setup.reaction.reagents:
        amount = reagent_mmol(reagent, setup.tables)
        for key, per_mol in reagent_parts(reagent, setup.tables).items():
            total[key] += amount * per_mol
        if reagent.purity < 1.0 and reagent.amount_mmol is None:
            total[WATER] += _impurity_water(reagent, setup.tables, amount)
    return total


def left_when_complete(setup: Setup) -> Mapping[str, float]:
    """Each component charged [mmol], less what a complete reaction uses of the reagents."""
    left, reaction = dict(charged_mmol(setup)), setup.reaction
    active = [r for r in reaction.reagents if r.coefficient > 0] if reaction.products else []
    amounts = [reagent_mmol(r, setup.tables) / r.coefficient for r in active]
    for reagent in active:
        for key, per_mol in reagent_parts(reagent, setup.tables).items():
            left[key] -= reagent.coefficient * per_mol * min(amounts)
    return left


def charged_g(setup: Setup) -> float:
    """Mass of everything charged before the reaction [g], as planned or as really used."""
    return sum(_reagent_g(reagent, setup.tables) for reagent in setup.reaction.reagents)


def _reagent_g(reagent: Reagent, tables: Tables) -> float:
    if reagent.amount_mmol is not None:
        parts = reagent.composition or {reagent.substance: 1.0}
        molar_mass = sum(tables.molar_mass(key) * n for key, n in parts.items())
        return reagent.amount_mmol * molar_mass * 1e-3
    if reagent.mass_g is not None:
        return reagent.mass_g
    return (reagent.volume_mL or 0.0) * tables.substances[reagent.substance].values["density"].value


def _impurity_water(reagent: Reagent, tables: Tables, amount: float) -> float:
    """The rest of an impure reagent, taken as water [mmol]."""
    mass_g = amount * tables.molar_mass(reagent.substance) * 1e-3
    rest_g = mass_g * (1.0 / reagent.purity - 1.0)
    return rest_g / tables.molar_mass(WATER) * 1e3


def after_reaction(inv: Inventory, setup: Setup) -> tuple[Array, Array]:
    """The mixture when the reaction is over, and what the reaction turned over, (C, N) each.

    The extent is the drawn conversion of the limiting reagent, the one with the least amount
    over its coefficient.
    """
    start = charged(inv, setup)
    reaction = setup.reaction
    if not reaction.products:
        return start, inv.none()
    active = [r for r in reaction.reagents if r.coefficient > 0]
    limit = min(reagent_mmol(r, inv.tables) / r.coefficient for r in active)
    c = reaction.conversion
    share = np.clip(inv.draws.spread("conversion", c.low, c.nominal, c.high), 0.0, 1.0)
    turned = inv.none()
    for reagent in active:
        for key, per_mol in reagent_parts(reagent, inv.tables).items():
            turned[inv.index[key]] -= reagent.coefficient * per_mol * limit * share
    for product in reaction.products:
        for key, per_mol in inv.tables.parts(product.substance).items():
            turned[inv.index[key]] += product.coefficient * per_mol * limit * share
    return start + turned, turned
