"""What kind of thing is in a bottle or a vessel: acid, base, carbonate, brine, oxidant, ...

Everything that asks such a question asks here, and is answered from the contents: components,
their charges and acid constants, those of the exercise's own materials and substances among them.
A key or a name says nothing. A limit without a source beside it is common practice.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from .components import CARBON_DIOXIDE, Inventory
from .constants import KW
from .contact import Contact, contact
from .redox import OXIDANT, REDUCTANT
from .setup import Setup
from .speciation import NotConverged
from .substances import Substance, Tables

Array = NDArray[np.float64]

REDUCTANTS = (REDUCTANT, "thiosulfate")
AMMONIA, CHLORIDE = "ammonia", "chloride"

# An acid or base bottle by its own pH, and by what a mL of it gives off until pH 7 or takes up
# until pH 4 [mmol]. Between the two lie ammonium, dihydrogenphosphate and bisulfite (about 4.5).
ACID_BELOW_PH, BASE_ABOVE_PH, LEAST_STRENGTH_MMOL_ML = 3.0, 8.0, 0.02
NEUTRAL_PH, BASE_USED_UP_PH = 7.0, 4.0
HYDROXIDE_MMOL_ML = 0.01
# Liquids with an extreme pH are taken for corrosive (CLP annex I, 3.2.3.1.2, from memory).
CORROSIVE_PH = (2.0, 11.5)
BRINE_MOL_L, BRINE_PH = 2.0, (5.0, 9.0)
# Above dichloromethane (0.2 wt%), below ether (1.3): where drying without brine is as good.
WET_SOLVENT_WT_PCT = 0.5
# Acids and phenols as a workup parts them: bicarbonate takes the first, hydroxide both.
ACID_PKA, PHENOL_PKA = 7.0, 11.5
# Cl2 + H2O = HOCl + H+ + Cl- at 20 C, mol2/L2 (REACH dossier of chlorine: 2.2e-4 at 10 C,
# 3.2e-4 at 20 C, 4.4e-4 at 30 C).
CHLORINE_HYDROLYSIS = 3.2e-4

# Departments draw the line between a tenth of a per cent and a few.
HALOGENATED_SHARE = 0.05

_HALOGEN = re.compile(r"Cl|Br|F(?![a-z])|I(?![a-z])")
_HALIDE_ION = re.compile(r"\[(?:Cl|Br|F|I)-\]")
_BISECTIONS, _PH_LOW, _PH_HIGH = 60, -2.0, 16.0

Weak = tuple[tuple[float, int, tuple[float, ...]], ...]


@dataclass(frozen=True)
class Bottle:
    """A liquid as it stands on the bench.

    ``components`` mmol per mL beside water; ``pH`` its own, from charges and pKa; ``gives_acid``
    and ``takes_acid`` mmol per mL until pH 7 and pH 4; ``hydroxide`` mmol per mL beyond every
    proton there is; ``salt_mol_L`` charge of the anions at its pH, hydroxide aside;
    ``is_own_reagent`` where it holds a substance that only the exercise knows.
    """

    key: str
    components: Mapping[str, float]
    is_solvent: bool
    pH: float
    gives_acid: float
    takes_acid: float
    hydroxide: float
    salt_mol_L: float
    is_own_reagent: bool

    def has(self, *keys: str) -> bool:
        """Whether any of these is in it."""
        return any(self.components.get(k, 0.0) > 0 for k in keys)

    @property
    def oxidises(self) -> bool:
        """Hypochlorite."""
        return self.has(OXIDANT)

    @property
    def reduces(self) -> bool:
        """Bisulfite or thiosulfate."""
        return self.has(*REDUCTANTS)

    @property
    def is_acid(self) -> bool:
        """A solution that takes bases out or sets acids free, mineral or not."""
        return self.pH < ACID_BELOW_PH and self.gives_acid >= LEAST_STRENGTH_MMOL_ML

    @property
    def is_base(self) -> bool:
        """A solution that takes acid up; bleach and sulfite are there for something else."""
        return (
            self.pH > BASE_ABOVE_PH
            and self.takes_acid >= LEAST_STRENGTH_MMOL_ML
            and not (self.oxidises or self.reduces)
        )

    @property
    def is_strong_base(self) -> bool:
        """A hydroxide solution: more cations than all acids in it can balance."""
        return self.hydroxide >= HYDROXIDE_MMOL_ML

    @property
    def is_carbonate(self) -> bool:
        """A bicarbonate or carbonate solution: it gives gas with acid."""
        return self.has(CARBON_DIOXIDE) and self.is_base and not self.is_strong_base

    @property
    def is_ammonium(self) -> bool:
        """A solution of an ammonium salt: it takes up hydroxide and is hardly acid."""
        return self.has(AMMONIA) and ACID_BELOW_PH <= self.pH < BASE_ABOVE_PH

    @property
    def is_brine(self) -> bool:
        """A concentrated neutral salt solution that is there for nothing but its salt."""
        neutral = BRINE_PH[0] < self.pH < BRINE_PH[1]
        reacts = self.oxidises or self.reduces or self.is_ammonium
        return self.salt_mol_L >= BRINE_MOL_L and neutral and not reacts

    @property
    def acts_otherwise(self) -> bool:
        """Whether it is there for a reaction of its own, which may not be simulated: bisulfite for
        an aldehyde, thiosulfate for iodine, ammonium for copper, an own reagent."""
        return self.oxidises or self.reduces or self.is_ammonium or self.is_own_reagent

    @property
    def strength(self) -> float:
        """mmol per mL of acid given off or taken up, whichever is more."""
        return max(self.gives_acid, self.takes_acid)

    @property
    def is_corrosive(self) -> bool:
        """Whether its pH alone makes it corrosive."""
        return not CORROSIVE_PH[0] < self.pH < CORROSIVE_PH[1]


def bottle(key: str, setup: Setup) -> Bottle:
    """What stands under a key on the exercise's bench; its own materials come first."""
    tables = setup.tables
    parts = _components(key, setup)
    charges = [tables.ions[k].charge * v for k, v in parts.items() if k in tables.ions]
    strong, weak = sum(charges), _weak(parts, setup)
    pH = _own_pH(strong, weak)
    anions = [*charges, *(c * _mean_charge(top, pKa, pH) for c, top, pKa in weak)]
    return Bottle(
        key,
        parts,
        key in tables.solvents,
        pH,
        max(-_charge(strong, weak, NEUTRAL_PH), 0.0),
        max(_charge(strong, weak, BASE_USED_UP_PH), 0.0),
        max(strong + sum(c * (top - len(pKa)) for c, top, pKa in weak), 0.0),
        -sum(c for c in anions if c < 0),
        any(s.key in parts for s in setup.own_substances),
    )


def _components(key: str, setup: Setup) -> Mapping[str, float]:
    own = next((m for m in setup.own_materials if m.key == key), None)
    if own is not None:
        return own.components
    tables = setup.tables
    if key in tables.solutions:
        return tables.solutions[key].components
    substance = tables.substances.get(key)
    density = substance.values.get("density") if substance is not None else None
    if substance is None or density is None:
        return {}
    return {key: density.value / substance.molar_mass * 1e3}


def _weak(parts: Mapping[str, float], setup: Setup) -> Weak:
    """Concentration, charge when fully protonated and pKa of what takes or gives protons."""
    found = []
    for key, amount in sorted(parts.items()):
        substance = setup.tables.substances.get(key)
        if substance is None:
            continue
        pKa = tuple(
            setup.values.get(f"pKa{n}:{key}", q).value for n, q in enumerate(substance.pKa, 1)
        )
        if pKa or substance.charge_top:
            found.append((amount, substance.charge_top, pKa))
    return tuple(found)


def _charge(strong: float, weak: Weak, pH: float) -> float:
    """Charge [mmol/mL] that a solution brought to a pH carries beside H+ and OH-."""
    return strong + sum(c * _mean_charge(top, pKa, pH) for c, top, pKa in weak)


def _mean_charge(top: int, pKa: tuple[float, ...], pH: float) -> float:
    """Charge per mol: top less the protons lost, sum(j w_j)/sum(w_j), w_j = prod(K)/h^j."""
    weight, total, lost = 1.0, 1.0, 0.0
    for j, constant in enumerate(pKa, 1):
        weight *= 10.0 ** (pH - constant)
        total, lost = total + weight, lost + j * weight
    return top - lost / total


def charge_of(substance: Substance, pH: float) -> float:
    """Mean charge of a substance in water of a pH, from its pKa."""
    return _mean_charge(substance.charge_top, tuple(q.value for q in substance.pKa), pH)


@lru_cache(maxsize=1024)
def _own_pH(strong: float, weak: Weak) -> float:
    """pH [1] at which h - Kw/h + strong + sum(c z) is 0; ideal, nothing in the gas."""
    low, high = _PH_LOW, _PH_HIGH
    for _ in range(_BISECTIONS):
        pH = 0.5 * (low + high)
        h = 10.0**-pH
        low, high = (pH, high) if h - KW / h + _charge(strong, weak, pH) > 0 else (low, pH)
    return 0.5 * (low + high)


def charge_at(inv: Inventory, amounts: Array, pH: Array | float) -> Array:
    """Charge [mmol] that amounts (C, N) brought to a pH carry beside H+ and OH-, (N,).

    Below 0 they need cations: an acid there. Rises with [H+], falls with the pH.
    """
    h = np.broadcast_to(10.0 ** -np.asarray(pH, dtype=float), (amounts.shape[1],))
    total = inv.strong_mmol(amounts)
    for acid in inv.acids:
        water, _, charge, _ = acid.states(h)
        total = total + amounts[acid.row] * (charge / water)
    return np.asarray(total)


def is_more_acid(inv: Inventory, amounts: Array, pH: Array | float) -> NDArray[np.bool_]:
    """Whether the own pH of a water layer, amounts (C, N), is below a pH, (N,)."""
    h = 10.0 ** -np.asarray(pH, dtype=float)
    free = inv.volume_mL(amounts) * (h - KW / h)
    return np.asarray(charge_at(inv, amounts, pH) + free < 0)


@dataclass(frozen=True, eq=False)
class Contents:
    """What a vessel holds when it has been stirred: nominal amounts, whatever was poured first."""

    inv: Inventory
    amounts: Array

    @cached_property
    def _one(self) -> tuple[Inventory, Array]:
        return self.inv.nominal, self.amounts[:, :1]

    def mmol(self, *keys: str) -> float:
        """Amount of some components [mmol]; those the exercise does not know count as none."""
        index = self.inv.index
        return float(sum(self.amounts[index[k], 0] for k in keys if k in index))

    @cached_property
    def is_wet(self) -> bool:
        """Whether there is more than a trace of water (1 mmol)."""
        return self.mmol("water") > 1.0

    @cached_property
    def _shaken(self) -> Contact | None:
        """Everything in it stirred in the open; None where there is no water or no answer."""
        if not self.is_wet:
            return None
        inv, amounts = self._one
        try:
            found = contact(inv, amounts)
        except NotConverged:
            return None
        return found if found.split.aqueous[inv.water, 0] > 0 else None

    @property
    def pH(self) -> float:
        """Of the water layer; 7 where there is none, or where none can be computed."""
        return NEUTRAL_PH if self._shaken is None else float(self._shaken.split.pH[0])

    @property
    def gas_mmol(self) -> float:
        """Gas that comes off when it is stirred in the open [mmol]."""
        return 0.0 if self._shaken is None else float(self._shaken.gas_mmol[0])

    @cached_property
    def acid_mmol(self) -> float:
        """Hydroxide it takes to bring everything there to pH 7."""
        inv, amounts = self._one
        return max(-float(charge_at(inv, amounts, NEUTRAL_PH)[0]), 0.0)

    @cached_property
    def is_acid(self) -> bool:
        """Whether the water layer is as acid as what is called an acid in a bottle."""
        return self.is_wet and self.acid_mmol > 0 and self.pH < ACID_BELOW_PH

    @cached_property
    def oxidant_mmol(self) -> float:
        """Hypochlorite that no reducing agent in it makes up for: one bisulfite takes one, a
        thiosulfate at least one."""
        return max(self.mmol(OXIDANT) - self.mmol(*REDUCTANTS), 0.0)

    @cached_property
    def ammonia_mmol(self) -> float:
        """Ammonia and ammonium."""
        return self.mmol(AMMONIA)

    @cached_property
    def carbonate_mmol(self) -> float:
        """Carbon dioxide that enough acid would set free."""
        return self.mmol(CARBON_DIOXIDE)

    @cached_property
    def chlorine_mmol(self) -> float:
        """Hypochlorite that is chlorine at equilibrium: [HOCl][H+][Cl-]/[Cl2] = K; no gas lost."""
        left = self.oxidant_mmol
        if left <= 0 or not self.is_wet:
            return 0.0
        inv, amounts = self._one
        litres = float(inv.volume_mL(amounts)[0]) * 1e-3
        h, chloride = 10.0**-self.pH, self.mmol(CHLORIDE) * 1e-3 / litres
        constants = [10.0**-q.value for q in inv.tables.substances[OXIDANT].pKa]
        as_ion = sum(k / h for k in constants)
        as_chlorine = h * chloride / CHLORINE_HYDROLYSIS
        return float(left * as_chlorine / (1.0 + as_ion + as_chlorine))

    @cached_property
    def base_mmol(self) -> float:
        """Strong acid it takes to bring everything there to pH 7."""
        inv, amounts = self._one
        return max(float(charge_at(inv, amounts, NEUTRAL_PH)[0]), 0.0)

    @cached_property
    def halogenated_g(self) -> float:
        """Mass of halogenated solvents and other organic halogen compounds [g]."""
        return self._grams(is_halogenated)

    @property
    def is_halogenated(self) -> bool:
        """Whether halogen compounds are more than a little of what is organic in it."""
        return self.halogenated_g > HALOGENATED_SHARE * self._grams(_is_organic)

    def _grams(self, which: Callable[[Substance], bool]) -> float:
        inv, known = self.inv, self.inv.tables.substances
        rows = [r for k, r in inv.index.items() if k in known and which(known[k])]
        return float((self.amounts[rows, 0] * inv.molar_mass[rows]).sum()) * 1e-3


def is_halogenated(substance: Substance) -> bool:
    """An organic compound with a halogen bound to it: burnt apart from the others.

    By its structure; without one, by its class. A halide ion does not count.
    """
    if "inorganic" in substance.classes:
        return False
    if not substance.smiles:
        return "alkyl_halide" in substance.classes
    return _HALOGEN.search(_HALIDE_ION.sub("", substance.smiles)) is not None


def _is_organic(substance: Substance) -> bool:
    return "inorganic" not in substance.classes


def is_acid_substance(substance: Substance) -> bool:
    """A neutral substance that a weak base takes up."""
    return substance.charge_top == 0 and bool(substance.pKa) and (
        substance.pKa[0].value < ACID_PKA)


def is_phenol(substance: Substance) -> bool:
    """A neutral substance that hydroxide takes up and bicarbonate does not."""
    return substance.charge_top == 0 and bool(substance.pKa) and (
        ACID_PKA <= substance.pKa[0].value < PHENOL_PKA)


def needs_brine(shares: Mapping[str, float], tables: Tables) -> bool:
    """Whether an organic layer holds so much water that brine is worth its while.

    ``shares`` volumes of its extraction solvents, in any unit; without any, no.
    """
    volume = math.fsum(shares.values())
    if volume <= 0:
        return False
    held = math.fsum(
        v * tables.substances[s].values["water_in_solvent"].value for s, v in shares.items())
    return held / volume > WET_SOLVENT_WT_PCT
