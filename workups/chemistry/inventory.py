"""Collects the components of an exercise and draws their constants.

Every constant is drawn under its own name, so that adding one leaves the others alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from .components import CARBON_DIOXIDE, WATER, Inventory, IonPair
from .constants import WATER_G_MOL
from .draws import Draws
from .gel import solubility_product
from .hydride import BOROHYDRIDE
from .hydride import MADE as MADE_OF_HYDRIDE
from .layers import NOT_EXTRACTED
from .limits import SOLID_ABOVE_C
from .ownable import ION_PAIR
from .practice import PRACTICE, practice_value
from .quantity import Quantity
from .redox import MADE, OXIDANT, REDUCTANT
from .setup import Setup
from .solubility import (
    MEASURED_AT_C,
    SOLUTION_J_MOL,
    SOLUTION_UNCERTAINTY_J_MOL,
    change_of_solubility,
)
from .speciation import Ionisable
from .substances import Substance, Tables

__all__ = ["Inventory", "build_inventory", "partition_quantity"]

Array = NDArray[np.float64]

CRIPPEN_LOG_UNCERTAINTY = 0.5
HYDROPHILIC = frozenset({"inorganic"})
# Of a layer that has no extraction solvent in it; octanol stands in for what is not known of it.
NO_SOLVENT = "octanol"
_NEAT_LOG_UNCERTAINTY = 0.15


def _component_keys(setup: Setup, tables: Tables) -> tuple[str, ...]:
    """All components that can occur, sorted, water first."""
    keys: set[str] = {WATER}
    for reagent in setup.reaction.reagents:
        keys.update(reagent.composition or tables.parts(reagent.substance))
    for product in setup.reaction.products:
        keys.update(tables.parts(product.substance))
    keys.update(t.substance for t in setup.targets)
    for slow in setup.slow_reactions:
        keys.update(slow.products)
    for material in setup.materials:
        keys.update(_material_components(material, setup, tables))
    for own in setup.own_materials:
        keys.update(own.components)
    if {OXIDANT, REDUCTANT} <= keys:
        keys.update(MADE)
    if BOROHYDRIDE in keys:
        keys.update(MADE_OF_HYDRIDE)
    return (WATER, *sorted(keys - {WATER}))


def _material_components(key: str, setup: Setup, tables: Tables) -> Iterable[str]:
    if key in tables.agents:
        return (f"agent:{key}",)
    if key in tables.solutions:
        return tuple(tables.solutions[key].components)
    return () if any(m.key == key for m in setup.own_materials) else (key,)


def _molar_volume(substance: Substance) -> float:
    """Molar volume in mL/mmol: from the liquid's density, else an apparent molar volume."""
    density = substance.values.get("density")
    if density is not None:
        return substance.molar_mass / density.value * 1e-3
    apparent = substance.values.get("apparent_molar_volume")
    return (apparent.value if apparent else substance.molar_mass / 1.2) * 1e-3


def _own_or(setup: Setup, name: str, table: Quantity | None) -> Quantity | None:
    return setup.values.get(name, table)


def _self_partition(substance: Substance) -> Quantity | None:
    """log10 K of a solvent between itself and water, from its solubility in water [wt%]."""
    percent = substance.values.get("solvent_in_water")
    density = substance.values.get("density")
    if percent is None or density is None:
        return None
    # Mass share p of the saturated layer; its density is taken as that of water.
    in_water_g_mL = percent.value / 100.0
    log_k = float(np.log10(density.value / in_water_g_mL))
    spread = percent.uncertainty / percent.value / np.log(10.0)
    return Quantity(log_k, "1", float(spread), percent.source, percent.grade, "derived")


def _neat_partition(substance: Substance) -> Quantity | None:
    """log10 K of a liquid between itself and water, from its solubility in water [g/L].

    For a layer of product without solvent. It counts for a liquid that is there beside another as
    well, whose activity coefficient in it is taken as 1 within ``_NEAT_LOG_UNCERTAINTY`` (a
    judgement, no source). None for what is a solid by itself or mixes with water.
    """
    values = substance.values
    limit, density = values.get("water_solubility"), values.get("density")
    melts = values.get("melting_point")
    if limit is None or density is None or (melts and melts.value >= SOLID_ABOVE_C):
        return None
    spread = np.hypot(limit.uncertainty / limit.value / np.log(10.0), _NEAT_LOG_UNCERTAINTY)
    return Quantity(float(np.log10(density.value * 1e3 / limit.value)), "1", float(spread),
                    limit.source, limit.grade, "derived: density over solubility in water")


def partition_quantity(substance: Substance, solvent: str, setup: Setup) -> Quantity | None:
    """log10 K of a substance in a solvent, with where it comes from; None: does not extract.

    Order: the instructor's own value, the table, a solvent's own solubility in water, in a layer
    without solvent (``NO_SOLVENT``) a liquid's own, log Kow with the scatter of an estimate.
    Inorganic substances do not extract.
    """
    own = setup.values.get(f"log10_K:{substance.key}:{solvent}")
    if own is not None:
        return own
    if solvent in substance.partition:
        return substance.partition[solvent]
    if substance.key == solvent or ("solvent" in substance.classes and not substance.partition):
        found = _self_partition(substance)
        if found is not None:
            return found
    if substance.classes & HYDROPHILIC:
        return None
    neat = _neat_partition(substance) if solvent == NO_SOLVENT else None
    octanol = substance.values.get("log_kow")
    if octanol is None or neat is not None:
        return neat
    return Quantity(
        octanol.value,
        "1",
        max(octanol.uncertainty, CRIPPEN_LOG_UNCERTAINTY),
        octanol.source,
        "B",
        f"derived: log Kow taken for {solvent}",
    )


def _co2_partition(solvent: str, tables: Tables) -> tuple[float, float]:
    """log10 K of CO2 from Ostwald coefficients, and its uncertainty."""
    values = tables.substances[solvent].values if solvent in tables.substances else {}
    ostwald = values.get("co2_ostwald")
    if ostwald is None:
        return float(np.log10(3.5 / 0.83)), 0.15
    return (
        float(np.log10(ostwald.value / 0.83)),
        float(ostwald.uncertainty / ostwald.value / np.log(10.0)),
    )


def build_inventory(setup: Setup, tables: Tables, draws: Draws) -> Inventory:
    """Collect the components of an exercise and draw their constants."""
    return _Builder(setup, tables, draws).build()


class _Builder:
    """Draws every constant under its own name, so that adding one leaves the others alone."""

    def __init__(self, setup: Setup, tables: Tables, draws: Draws) -> None:
        self.setup, self.tables, self.draws = setup, tables, draws
        self.keys = _component_keys(setup, tables)
        self.substances = {
            k: self._substance(k)
            for k in self.keys
            if k not in tables.ions and not k.startswith("agent:")
        }
        self.solvents = tuple(k for k in self.keys if k in tables.solvents)

    def _substance(self, key: str) -> Substance:
        if key not in self.tables.substances:
            raise KeyError(f"unknown component {key!r}: not a substance, ion or drying agent")
        return self.tables.substances[key]

    def build(self) -> Inventory:
        index = {k: i for i, k in enumerate(self.keys)}
        agents = {m: self.tables.agents[m] for m in self.setup.materials if m in self.tables.agents}
        return Inventory(
            keys=self.keys,
            names={k: self._name(k) for k in self.keys},
            index=index,
            draws=self.draws,
            molar_mass=self._molar_masses(),
            molar_volume=self._molar_volumes(),
            strong_charge=self._charges(),
            base_charge=self._base_charges(),
            acids=self._acids(index),
            solvents=self.solvents,
            solvent_rows=np.array([index[s] for s in self.solvents], dtype=np.int64),
            cosolvent_rows=np.array(
                [index[k] for k, s in self.substances.items() if "cosolvent" in s.classes],
                dtype=np.int64,
            ),
            volatile={index[k]: s.antoine for k, s in self.substances.items() if s.antoine},
            log10_K=self._log_partition(),
            setschenow=self._setschenow(),
            cosolvency=self._cosolvency(),
            solubility=self._solubility(),
            solution_J_mol=self._solution_J_mol(),
            water_in_solvent=self._water_in_solvent(),
            droplets_uL_mL=self._droplets(),
            dimerisation=self._dimerisation(),
            dimerising=np.array([index[k] for k, s in self.substances.items()
                                 if "carboxylic_acid" in s.classes], dtype=np.int64),
            co2_henry=self._henry(),
            gel_product=solubility_product(self.draws),
            ion_pairs=self._ion_pairs(index),
            practice=self._practice(),
            agents=agents,
            agent_rows={a: index[f"agent:{a}"] for a in agents},
            tables=self.tables,
            setup=self.setup,
            room_C=self.setup.room_C,
        )

    def _name(self, key: str) -> str:
        if key in self.substances:
            return self.substances[key].name
        if key in self.tables.ions:
            return self.tables.ions[key].name
        return self.tables.agents[key.removeprefix("agent:")].name

    def _molar_masses(self) -> Array:
        def mass(key: str) -> float:
            agent = self.tables.agents.get(key.removeprefix("agent:"))
            return self.tables.counted_mass(key) if agent is None else agent.molar_mass

        return np.array([mass(k) for k in self.keys])

    def _molar_volumes(self) -> Array:
        def volume(key: str) -> float:
            if key in self.substances:
                return _molar_volume(self.substances[key])
            if key in self.tables.ions:
                return self.tables.ions[key].molar_volume * 1e-3
            return self.tables.agents[key.removeprefix("agent:")].molar_mass / 2.5 * 1e-3

        return np.array([volume(k) for k in self.keys])

    def _charges(self) -> Array:
        """Of ions, and -1 of a strong acid that never takes its proton back."""
        return np.array([
            float(self.tables.ions[k].charge) if k in self.tables.ions else
            float(self._least_charge(k)) if self._is_strong_acid(k) else 0.0
            for k in self.keys])

    def _base_charges(self) -> Array:
        return np.array([
            float(self.tables.ions[k].charge) if k in self.tables.ions else
            float(self._least_charge(k)) for k in self.keys])

    def _least_charge(self, key: str) -> int:
        """Charge that a substance keeps at any pH: -1 for hydrogensulfate, else 0."""
        return min(self.substances[key].charge_top, 0) if key in self.substances else 0

    def _is_strong_acid(self, key: str) -> bool:
        return self._least_charge(key) < 0 and not self.substances[key].pKa

    def _acids(self, index: Mapping[str, int]) -> tuple[Ionisable, ...]:
        acids = []
        for key, substance in self.substances.items():
            levels = []
            for number, table in enumerate(substance.pKa, start=1):
                value = _own_or(self.setup, f"pKa{number}:{key}", table)
                assert value is not None
                drawn = self.draws.around(f"pKa{number}:{key}", value.value, value.uncertainty)
                levels.append(10.0**-drawn)
            if levels:
                acids.append(Ionisable(index[key], substance.charge_top, np.stack(levels)))
        return tuple(acids)

    def _drawn_log_k(self, key: str, solvent: str) -> Array:
        substance = self.substances[key]
        if key == CARBON_DIOXIDE:
            value, spread = _co2_partition(solvent, self.tables)
            return self.draws.around(f"co2:{solvent}", value, spread)
        found = (None if self._is_strong_acid(key)
                 else partition_quantity(substance, solvent, self.setup))
        if found is None:
            return np.full(self.draws.count, NOT_EXTRACTED)
        return self.draws.around(f"log10_K:{key}:{solvent}", found.value, found.uncertainty)

    def _log_partition(self) -> Array:
        slices = []
        for solvent in (*self.solvents, NO_SOLVENT):
            rows = [
                self._drawn_log_k(k, solvent)
                if k in self.substances and k != WATER
                else np.full(self.draws.count, NOT_EXTRACTED)
                for k in self.keys
            ]
            slices.append(np.stack(rows))
        return np.stack(slices)

    def _setschenow(self) -> Array:
        def constant(key: str) -> Array:
            if key not in self.substances or key == WATER or not self.setup.salting:
                return np.zeros(self.draws.count)
            values = self.substances[key].values
            if "setschenow" in values:
                q = values["setschenow"]
                return self.draws.around(f"ks:{key}", q.value, q.uncertainty)
            if "log_kow" not in values:
                return np.zeros(self.draws.count)
            # Ni and Yalkowsky 2003 (from memory, grade B): ks = 0.040 log Kow + 0.114 L/mol.
            rule = 0.040 * values["log_kow"].value + 0.114
            return self.draws.around(f"ks:{key}", rule, 0.04)

        return np.stack([constant(k) for k in self.keys])

    def _cosolvency(self) -> Array:
        def power(key: str) -> Array:
            if key not in self.substances or key == WATER or not self.setup.cosolvent:
                return np.zeros(self.draws.count)
            octanol = self.substances[key].values.get("log_kow")
            if octanol is None or self.substances[key].classes & HYDROPHILIC:
                return np.zeros(self.draws.count)
            # Ethanol line of Li and Yalkowsky (from memory, grade B): sigma = 0.95 log Kow + 0.30.
            rule = max(0.0, 0.95 * octanol.value + 0.30)
            return self.draws.around(f"sigma:{key}", rule, 0.3 * rule)

        return np.stack([power(k) for k in self.keys])

    def _solubility(self) -> Array:
        """Of the neutral form in water at room temperature [mol/L]; infinite for what does not come
        out as a solid."""

        def limit(key: str) -> Array:
            substance = self.substances.get(key)
            known = substance.values if substance is not None else {}
            limit, melts = known.get("water_solubility"), known.get("melting_point")
            if (substance is None or limit is None or melts is None or key in self.solvents
                    or substance.classes & HYDROPHILIC or melts.value < SOLID_ABOVE_C):
                return np.full(self.draws.count, np.inf)
            relative = limit.uncertainty / limit.value if limit.value else 0.0
            drawn = self.draws.factor(f"solubility:{key}", relative)
            return limit.value / substance.molar_mass * drawn

        at_room = change_of_solubility(
            self._solution_J_mol(), MEASURED_AT_C, self.setup.room_C)
        return np.stack([limit(k) for k in self.keys]) * at_room

    def _solution_J_mol(self) -> Array:
        """Enthalpy of solution in water [J/mol], (C, N); 0 for what is no substance."""
        return np.stack([
            self.draws.around(f"solution:{k}", SOLUTION_J_MOL, SOLUTION_UNCERTAINTY_J_MOL)
            if k in self.substances else np.zeros(self.draws.count) for k in self.keys])

    def _water_in_solvent(self) -> Array:
        """Water at saturation [mmol per mL of solvent], shape (S, N)."""
        rows = []
        for solvent in self.solvents:
            values = self.substances[solvent].values
            percent, density = values["water_in_solvent"], values["density"]
            share = percent.value / 100.0
            per_mL = share / (1.0 - share) * density.value / WATER_G_MOL * 1e3
            relative = percent.uncertainty / percent.value
            rows.append(per_mL * self.draws.factor(f"water_in:{solvent}", relative))
        return np.stack(rows) if rows else np.zeros((0, self.draws.count))

    def _droplets(self) -> Array:
        rows = []
        for solvent in self.solvents:
            q = self.tables.solvents[solvent].droplets
            rows.append(
                q.value
                * self.draws.factor(
                    f"droplets:{solvent}", q.uncertainty / q.value if q.value else 0.0
                )
            )
        return np.stack(rows) if rows else np.zeros((0, self.draws.count))

    def _dimerisation(self) -> Array:
        """Constant of carboxylic acids in each solvent [L/mol], (S, N); 0 where they do not."""
        rows = []
        for solvent in self.solvents:
            q = self.tables.solvents[solvent].dimerisation
            rows.append(np.zeros(self.draws.count) if q is None else 10.0 ** self.draws.around(
                f"dimer:{solvent}", q.value, q.uncertainty))
        return np.stack(rows) if rows else np.zeros((0, self.draws.count))

    def _ion_pairs(self, index: Mapping[str, int]) -> tuple[IonPair, ...]:
        """The exercise's allowances ``log10_Kip:SUBSTANCE:ION:SOLVENT``; of bases only."""
        pairs = []
        for name, value in self.setup.values.items():
            head, *parts = name.split(":")
            if head != ION_PAIR or len(parts) != 3:
                continue
            base, ion, solvent = parts
            usable = (base in self.substances and self.substances[base].charge_top > 0
                      and self.substances[base].pKa and ion in index and solvent in self.solvents)
            if usable:
                drawn = self.draws.around(name, value.value, value.uncertainty)
                pairs.append(IonPair(
                    index[base], index[ion], self.solvents.index(solvent), 10.0**drawn))
        return tuple(pairs)

    def _henry(self) -> Array:
        q = self.tables.substances[CARBON_DIOXIDE].values["henry"]
        return self.draws.around("henry:co2", q.value, q.uncertainty)

    def _practice(self) -> Mapping[str, Array]:
        drawn = {}
        for name in PRACTICE:
            q = practice_value(name, self.setup.values)
            relative = q.uncertainty / q.value if q.value else 0.0
            drawn[name] = q.value * self.draws.factor(f"practice:{name}", relative)
        return drawn
