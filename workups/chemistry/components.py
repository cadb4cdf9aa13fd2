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

from .constants import KELVIN_AT_0_C
from .draws import Draws
from .gel import MAGNESIUM
from .setup import Setup
from .speciation import Acids, Ionisable, gathered
from .substances import Antoine, DryingAgent, Tables
from .sums import over_rows

Array = NDArray[np.float64]
Rows = NDArray[np.int64]

WATER, CARBON_DIOXIDE = "water", "carbon_dioxide"
# What a hydride or an organometallic reagent gives at the quench.
INSOLUBLE_GASES = ("hydrogen", "methane")
NOT_EXTRACTED = -30.0
# Liquid CO2 at 20 C (from memory, 5.7 MPa): dissolved gas leaves long before any solvent.
CO2_DISSOLVED_PA = 5.7e6
# Water shrinks around hydroxide and the anions of weak acids, mL per mmol, against the same
# amount of water and neutral acid. From densities (Laliberte 2009, 20 C): NaOH 22 at 1 M, 18 at
# 3 M, 16 at 6 M, carbonate beyond hydrogencarbonate 23, sulfate beyond hydrogensulfate 17;
# carboxylic acids 11 to 15 (from memory). One figure for all is within 0.01 g/mL of the tables.
ANION_CONTRACTION_ML_MMOL = 0.017
# The same where a base takes up a proton: ammonia 24.3, ammonium 18.1 (less chloride) mL/mol.
CATION_CONTRACTION_ML_MMOL = 0.0062
_MOST_CONTRACTION = 0.5


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
    none of them (octanol stands in), ``setschenow`` L/mol (C, N), ``cosolvency`` (C, N),
    ``dimerisation`` of carboxylic acids, L/mol (S, N), and ``dimerising`` the rows of those,
    ``solubility`` of the neutral form of what melts above 25 C, mol/L (C, N), else infinite.
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
    _parts: dict[bytes, Inventory] = field(default_factory=dict, compare=False)

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

    def mass_g(self, amounts: Array) -> Array:
        """Mass [g] of amounts [mmol] (C, N) -> (N,)."""
        return np.asarray(over_rows(amounts * self.molar_mass[:, None]) * 1e-3)

    def volume_mL(self, amounts: Array) -> Array:
        """Volume [mL] of amounts [mmol] (C, N) -> (N,).

        Additive in the components, less the contraction of the water around hydroxide and the
        anions of weak acids, of which there are as many as strong cations have no strong anion,
        and around protonated bases, as many as strong anions have no strong cation.
        """
        volume = over_rows(amounts * self.molar_volume[:, None])
        rows, bases = self.charged, self.bases
        if not rows.size:
            return volume
        charge = over_rows(amounts[rows] * self.base_charge[rows][:, None])
        shrinks = np.maximum(ANION_CONTRACTION_ML_MMOL * charge, 0.0)
        if bases.size:
            protonated = np.minimum(np.maximum(-charge, 0.0), over_rows(amounts[bases]))
            shrinks = shrinks + CATION_CONTRACTION_ML_MMOL * protonated
        return np.asarray(volume - np.minimum(shrinks, _MOST_CONTRACTION * volume))

    def strong_mmol(self, amounts: Array) -> Array:
        """Net charge of the fully dissociated ions [mmol], (C, N) -> (N,)."""
        return over_rows(amounts * self.strong_charge[:, None])

    @cached_property
    def acid_set(self) -> Acids:
        """All components with acid constants, as one record."""
        return gathered(self.acids, self.count)

    @cached_property
    def charged(self) -> Rows:
        """Rows that count for the contraction of the water."""
        return np.flatnonzero(self.base_charge)

    @cached_property
    def bases(self) -> Rows:
        """Rows of what takes up a proton."""
        return np.array([a.row for a in self.acids if a.top > 0], dtype=np.int64)

    @cached_property
    def cations(self) -> Rows:
        """Rows of the fully dissociated cations."""
        return np.flatnonzero(self.strong_charge > 0)

    @cached_property
    def anions(self) -> Rows:
        """Rows of the fully dissociated anions."""
        return np.flatnonzero(self.strong_charge < 0)

    @cached_property
    def solutes(self) -> Rows:
        """Rows of everything that is neither a fully dissociated ion nor water."""
        uncharged = self.strong_charge == 0
        uncharged[self.water] = False
        return np.flatnonzero(uncharged)

    @cached_property
    def never_extracted(self) -> Rows:
        """Rows that no solvent takes up."""
        taken_up = self.log10_K[:, :, 0] > NOT_EXTRACTED / 2
        return np.flatnonzero(~taken_up.any(axis=0))

    @cached_property
    def partly_extracted(self) -> tuple[tuple[int, NDArray[np.bool_]], ...]:
        """Rows that only some solvents take up, with which ones do, (S+1,)."""
        taken_up = self.log10_K[:, :, 0] > NOT_EXTRACTED / 2
        some = taken_up.any(axis=0) & ~taken_up.all(axis=0)
        return tuple((int(row), taken_up[:, row]) for row in np.flatnonzero(some))

    @cached_property
    def precipitating(self) -> Rows:
        """Rows of what comes out as a solid beyond its solubility."""
        return np.flatnonzero(np.isfinite(self.solubility).any(axis=1))

    def only(self, rows: Rows) -> Inventory:
        """The same constants for some of the components; ``rows`` rising, water among them."""
        known = self._parts.get(rows.tobytes())
        if known is None:
            known = self._parts[rows.tobytes()] = self._restricted(rows)
        return known

    def _restricted(self, rows: Rows) -> Inventory:
        new_row = {int(old): new for new, old in enumerate(rows)}
        here = [s for s, row in enumerate(self.solvent_rows) if int(row) in new_row]
        slices = np.array([*here, len(self.solvents)], dtype=np.int64)

        def moved(old: Rows) -> Rows:
            return np.array([new_row[int(r)] for r in old if int(r) in new_row], dtype=np.int64)

        return replace(
            self,
            keys=tuple(self.keys[r] for r in rows),
            index={self.keys[r]: new for new, r in enumerate(rows)},
            molar_mass=self.molar_mass[rows],
            molar_volume=self.molar_volume[rows],
            strong_charge=self.strong_charge[rows],
            base_charge=self.base_charge[rows],
            acids=tuple(replace(a, row=new_row[a.row]) for a in self.acids if a.row in new_row),
            solvents=tuple(self.solvents[s] for s in here),
            solvent_rows=moved(self.solvent_rows),
            cosolvent_rows=moved(self.cosolvent_rows),
            volatile={new_row[r]: a for r, a in self.volatile.items() if r in new_row},
            log10_K=self.log10_K[np.ix_(slices, rows)],
            setschenow=self.setschenow[rows],
            cosolvency=self.cosolvency[rows],
            solubility=self.solubility[rows],
            water_in_solvent=self.water_in_solvent[here],
            droplets_uL_mL=self.droplets_uL_mL[here],
            dimerisation=self.dimerisation[here],
            dimerising=moved(self.dimerising),
            ion_pairs=tuple(
                replace(p, row=new_row[p.row], counter=new_row[p.counter],
                        solvent=here.index(p.solvent))
                for p in self.ion_pairs
                if p.row in new_row and p.counter in new_row and p.solvent in here),
            agent_rows={a: new_row[r] for a, r in self.agent_rows.items() if r in new_row},
            _pressures={},
            _parts={},
        )

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
            water_in_solvent=some(self.water_in_solvent),
            droplets_uL_mL=some(self.droplets_uL_mL),
            dimerisation=some(self.dimerisation),
            co2_henry=some(self.co2_henry),
            gel_product=some(self.gel_product),
            ion_pairs=tuple(replace(p, K=some(p.K)) for p in self.ion_pairs),
            practice={name: some(value) for name, value in self.practice.items()},
            _pressures={},
            _parts={},
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
