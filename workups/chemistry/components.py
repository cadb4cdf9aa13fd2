"""The components of one exercise, in a fixed order, with their drawn properties.

Every amount in the simulation is an array (C, N): C components by N draws, in mmol. Components
are substances (all protonation states together), fully dissociated ions, and the salts used as
drying agents. Mass is linear in the amounts: a fully dissociated ion is counted with the proton it
displaces (Cl- as HCl, Na+ as NaOH less H2O), which makes masses exact in any electroneutral
mixture whatever its pH. Volume is linear too but for the contraction of water around weak ions.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .compiled import records
from .constants import KELVIN_AT_0_C
from .draws import Draws
from .gel import MAGNESIUM
from .mixture import COMPONENT, PAIR, SOLVENT, Constants
from .setup import Setup
from .solubility import change_of_solubility
from .speciation import Ionisable, gathered
from .substances import Antoine, DryingAgent, Tables
from .sums import over_rows
from .water import volumes_mL

Array = NDArray[np.float64]
Rows = NDArray[np.int64]

WATER, CARBON_DIOXIDE = "water", "carbon_dioxide"
# What a hydride or an organometallic reagent gives at the quench.
INSOLUBLE_GASES = ("hydrogen", "methane")
# Liquid CO2 at 20 C (from memory, 5.7 MPa): dissolved gas leaves long before any solvent.
CO2_DISSOLVED_PA = 5.7e6


@dataclass(frozen=True)
class IonPair:
    """A cation that leaves with an anion: rows of both, the solvent's number, K [L/mol] (N,).

    K = [BX]org / ([B+]aq [X-]aq), an allowance that an exercise makes.
    """

    row: int
    counter: int
    solvent: int
    K: Array


@dataclass(frozen=True)
class Inventory:
    """Components and drawn constants of an exercise for a set of draws.

    Shapes: ``molar_mass`` g/mol (C,), ``molar_volume`` mL/mmol (C,), ``strong_charge`` (C,),
    ``base_charge`` (C,): ``strong_charge``, and of a strong acid the charge it never loses,
    ``log10_K`` (S+1, C, N): one slice per extraction solvent, the last one for a layer made of
    none of them (``inventory.NO_SOLVENT``), ``setschenow`` L/mol (C, N), ``cosolvency`` (C, N),
    ``dimerisation`` of carboxylic acids, L/mol (S, N), and ``dimerising`` the rows of those,
    ``solubility`` of the neutral form of what melts above 25 C, mol/L (C, N), else infinite, at
    the temperature of the room or of ``at``, ``solution_J_mol`` its enthalpy of solution (C, N),
    ``groups`` by target the rows by what they are in the product, once ``measures`` asked.
    """

    keys: tuple[str, ...]
    names: Mapping[str, str]
    index: Mapping[str, int]
    draws: Draws
    molar_mass: Array
    molar_volume: Array
    strong_charge: Array
    base_charge: Array
    acids: tuple[Ionisable, ...]
    solvents: tuple[str, ...]
    solvent_rows: NDArray[np.int64]
    cosolvent_rows: NDArray[np.int64]
    volatile: Mapping[int, Antoine]
    log10_K: Array
    setschenow: Array
    cosolvency: Array
    solubility: Array
    solution_J_mol: Array
    water_in_solvent: Array
    droplets_uL_mL: Array
    dimerisation: Array
    dimerising: Rows
    co2_henry: Array
    gel_product: Array
    ion_pairs: tuple[IonPair, ...]
    practice: Mapping[str, Array]
    agents: Mapping[str, DryingAgent]
    agent_rows: Mapping[str, int]
    tables: Tables
    setup: Setup
    room_C: float
    _pressures: dict[float, Array] = field(default_factory=dict, compare=False)
    groups: dict[str, Mapping[str, Rows]] = field(default_factory=dict, compare=False)

    @property
    def count(self) -> int:
        """Number of draws N."""
        return len(self.co2_henry)

    @property
    def water(self) -> int:
        """Row of water."""
        return self.index[WATER]

    @property
    def co2(self) -> int | None:
        """Row of carbon dioxide (all carbonate forms), if the exercise has any."""
        return self.index.get(CARBON_DIOXIDE)

    @property
    def magnesium(self) -> int | None:
        """Row of magnesium ions, if the exercise has any."""
        return self.index.get(MAGNESIUM)

    @cached_property
    def insoluble_gases(self) -> Rows:
        """Rows of gases that water and solvents hardly take up."""
        return np.array([self.index[k] for k in INSOLUBLE_GASES if k in self.index],
                        dtype=np.int64)

    def none(self) -> Array:
        """An empty amount array, shape (C, N)."""
        return np.zeros((len(self.keys), self.count))

    def extraction_solvents(self, amounts: Array) -> Array:
        """Of amounts (C, N) those of extraction solvents alone, (C, N)."""
        found = self.none()
        found[self.solvent_rows] = amounts[self.solvent_rows]
        return found

    def mass_g(self, amounts: Array) -> Array:
        """Mass [g] of amounts [mmol] (C, N) -> (N,)."""
        return np.asarray(over_rows(amounts * self.molar_mass[:, None]) * 1e-3)

    def volume_mL(self, amounts: Array) -> Array:
        """Volume [mL] of amounts [mmol] (C, N) -> (N,), see ``water.volume_mL``."""
        return volumes_mL(self, amounts)

    def strong_mmol(self, amounts: Array) -> Array:
        """Net charge of the fully dissociated ions [mmol], (C, N) -> (N,)."""
        return over_rows(amounts * self.strong_charge[:, None])

    @cached_property
    def constants(self) -> Constants:
        """All of this as compiled code takes it."""
        acids, acid_constants = gathered(self.acids, self.count)
        pairs = records(len(self.ion_pairs), PAIR)
        pairs["cation"], pairs["anion"] = ([p.row for p in self.ion_pairs],
                                           [p.counter for p in self.ion_pairs])
        pairs["solvent"] = [p.solvent for p in self.ion_pairs]
        return Constants(
            water=self.water,
            co2=-1 if self.co2 is None else self.co2,
            magnesium=-1 if self.magnesium is None else self.magnesium,
            room_C=float(self.room_C),
            components=self._components(),
            solvents=records(len(self.solvents), SOLVENT),
            acids=acids,
            pairs=pairs,
            acid_constants=acid_constants,
            log10_K=self.log10_K,
            setschenow=self.setschenow,
            cosolvency=self.cosolvency,
            solubility=self.solubility,
            water_in_solvent=self.water_in_solvent,
            dimerisation=self.dimerisation,
            pair_K=np.array([p.K for p in self.ion_pairs]).reshape(-1, self.count),
            co2_henry=self.co2_henry,
            gel_product=self.gel_product)

    def _components(self) -> NDArray[np.void]:
        """What is the same in all draws, as records (C,)."""
        found = records(len(self.keys), COMPONENT)
        found["solvent"] = found["acid"] = -1
        found["solvent"][self.solvent_rows] = np.arange(len(self.solvent_rows))
        found["acid"][[a.row for a in self.acids]] = np.arange(len(self.acids))
        found["molar_volume"] = self.molar_volume
        found["strong_charge"], found["base_charge"] = self.strong_charge, self.base_charge
        found["saturation_Pa"] = self.saturation_Pa(self.room_C)
        found["takes_proton"][[a.row for a in self.acids if a.top > 0]] = True
        found["cosolvent"][self.cosolvent_rows] = True
        found["dimerises"][self.dimerising] = True
        return found

    @cached_property
    def precipitating(self) -> Rows:
        """Rows of what comes out as a solid beyond its solubility."""
        return np.flatnonzero(np.isfinite(self.solubility).any(axis=1))

    def at(self, celsius: Array | float) -> Inventory:
        """The same constants with the solubilities of a temperature [C], one number or (N,)."""
        if bool(np.all(celsius == self.room_C)) or not self.precipitating.size:
            return self
        change = change_of_solubility(self.solution_J_mol, self.room_C, celsius)
        return replace(self, solubility=self.solubility * change)

    def of_draws(self, draws: Rows) -> Inventory:
        """The same constants in some of the draws."""

        def some(every: Array) -> Array:
            return np.take(every, draws, axis=-1)

        return replace(
            self,
            acids=tuple(replace(a, constants=some(a.constants)) for a in self.acids),
            log10_K=some(self.log10_K),
            setschenow=some(self.setschenow),
            cosolvency=some(self.cosolvency),
            solubility=some(self.solubility),
            solution_J_mol=some(self.solution_J_mol),
            water_in_solvent=some(self.water_in_solvent),
            droplets_uL_mL=some(self.droplets_uL_mL),
            dimerisation=some(self.dimerisation),
            co2_henry=some(self.co2_henry),
            gel_product=some(self.gel_product),
            ion_pairs=tuple(replace(p, K=some(p.K)) for p in self.ion_pairs),
            practice={name: some(value) for name, value in self.practice.items()},
            _pressures={},
        )

    @cached_property
    def nominal(self) -> Inventory:
        """The same constants in the nominal draw alone."""
        return self if self.count == 1 else self.of_draws(np.array([0], dtype=np.int64))

    def saturation_Pa(self, celsius: float) -> Array:
        """Vapour pressures [Pa] at a temperature, shape (C,); 0 where none is tabulated."""
        if celsius not in self._pressures:
            pressures = np.zeros(len(self.keys))
            for row, antoine in self.volatile.items():
                pressures[row] = antoine.pressure_Pa(celsius + KELVIN_AT_0_C)
            if self.co2 is not None:
                pressures[self.co2] = CO2_DISSOLVED_PA
            self._pressures[celsius] = pressures
        return self._pressures[celsius]
