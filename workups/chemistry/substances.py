"""What the tables know of substances, ions, solvents, drying agents and bench solutions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from .constants import ABSOLUTE_ZERO_C
from .quantity import Quantity


@dataclass(frozen=True)
class Property:
    """A constant a substance may have: what it is called, its unit, the range that makes sense."""

    title: str
    unit: str
    low: float
    high: float


PROPERTIES: Mapping[str, Property] = {
    "pKa1": Property("pKa", "1", -10.0, 25.0),
    "pKa2": Property("second pKa", "1", -10.0, 25.0),
    "pKa3": Property("third pKa", "1", -10.0, 25.0),
    "log_kow": Property("log Kow", "1", -8.0, 15.0),
    "melting_point": Property("melting point", "C", ABSOLUTE_ZERO_C, 500.0),
    "boiling_point": Property("boiling point", "C", ABSOLUTE_ZERO_C, 700.0),
    "density": Property("density of the liquid", "g/mL", 0.3, 4.0),
    "water_solubility": Property("solubility in water", "g/L", 0.0, 3000.0),
    "flash_point": Property("flash point", "C", ABSOLUTE_ZERO_C, 500.0),
    "apparent_molar_volume": Property("apparent molar volume in water", "mL/mol", -50.0, 1500.0),
    "setschenow": Property("Setschenow constant", "L/mol", -1.0, 1.0),
}
# Classes of substances that give off or take up a proton in a workup: they need a pKa.
IONISABLE_CLASSES = frozenset({"carboxylic_acid", "phenol", "amine", "ionisable"})
SUBSTANCE_CLASSES = (
    "acetal", "alcohol", "aldehyde", "alkene", "alkyl_halide", "amide", "amine", "arene",
    "carboxylic_acid", "cosolvent", "ester", "ether", "inorganic", "ionisable", "ketone", "lactam",
    "nitro", "phenol", "tertiary_alcohol",
)


@dataclass(frozen=True)
class Antoine:
    """Vapour pressure: log10(P/Pa) = A - B/(T/K + C), valid from T_min_K to T_max_K."""

    A: float
    B: float
    C: float
    T_min_K: float
    T_max_K: float
    uncertainty_pct: float
    source: str
    grade: str

    def pressure_Pa(self, T_K: float) -> float:
        """Saturation pressure [Pa] at T [K]; outside the validity range an extrapolation.

        >>> water = Antoine(10.11564, 1687.537, -42.98, 273.2, 473.2, 1.5, "poling", "A")
        >>> round(water.pressure_Pa(373.15) / 101325.0, 2)
        1.0
        """
        return float(10.0 ** (self.A - self.B / (T_K + self.C)))


@dataclass(frozen=True)
class Substance:
    """A substance with all its protonation states together.

    ``charge_top`` is the charge of the most protonated form that counts in water: 0 for a neutral
    substance or an acid, +1 for an amine, -1 for hydrogensulfate. ``molar_mass`` [g/mol] is that
    of the neutral form; ``source`` and ``grade`` are those of structure and molar mass.
    ``values`` are by the names of ``PROPERTIES``, ``partition`` holds log10 K by solvent key.
    """

    key: str
    name: str
    molar_mass: float
    source: str
    grade: str
    cas: str = ""
    smiles: str = ""
    charge_top: int = 0
    classes: frozenset[str] = frozenset()
    hazards: tuple[str, ...] = ()
    values: Mapping[str, Quantity] = field(default_factory=dict)
    partition: Mapping[str, Quantity] = field(default_factory=dict)
    antoine: Antoine | None = None

    @property
    def pKa(self) -> tuple[Quantity, ...]:
        """pKa of the successive proton losses from the ``charge_top`` form."""
        names = ("pKa1", "pKa2", "pKa3")
        return tuple(self.values[n] for n in names if n in self.values)


@dataclass(frozen=True)
class Ion:
    """A fully dissociated ion: charge, molar mass [g/mol], apparent molar volume [mL/mol]."""

    key: str
    name: str
    charge: int
    molar_mass: float
    molar_volume: float
    source: str
    grade: str


@dataclass(frozen=True)
class Solvent:
    """What a substance is as an extraction solvent. ``droplets`` in uL of water per mL;
    ``dimerisation`` log10 of the constant of carboxylic acids in it [L/mol], None where the
    solvent holds their hydrogens itself."""

    key: str
    halogenated: bool
    peroxide_former: bool
    waste_stream: str
    droplets: Quantity
    dimerisation: Quantity | None = None


@dataclass(frozen=True)
class HydrateStep:
    """Water held rises from ``from_mol`` to ``to_mol`` per mol salt above a water activity.

    ``to_mol`` infinite: above this activity the salt dissolves. ``points`` are (temperature in
    C, water activity) pairs, rising in temperature.
    """

    from_mol: float
    to_mol: float
    points: tuple[tuple[float, float], ...]
    uncertainty_log10: float
    source: str
    grade: str

    def water_activity(self, celsius: float) -> float:
        """Water activity of the step, linear between the temperatures given, flat outside.

        >>> step = HydrateStep(0.0, 10.0, ((20.0, 0.76), (25.0, 0.80)), 0.01, "nbs", "B")
        >>> round(step.water_activity(22.5), 3), step.water_activity(10.0)
        (0.78, 0.76)
        """
        temperatures, activities = zip(*self.points, strict=True)
        return float(np.interp(celsius, temperatures, activities))


@dataclass(frozen=True)
class DryingAgent:
    """A drying agent: its hydrate staircase and how it handles.

    ``dissolving`` is the step above which the salt dissolves in free water, if it does.
    ``wetting`` mL of free liquid held per g; ``cake`` mL of organic liquid held per g.
    """

    key: str
    name: str
    molar_mass: float
    form: str
    decantable: bool
    wetting: Quantity
    cake: Quantity
    time_constant_min: Quantity
    T_max_C: float
    clump_from: float
    incompatible: frozenset[str]
    steps: tuple[HydrateStep, ...]
    dissolving: HydrateStep | None
    grade: str
    note: str


@dataclass(frozen=True)
class BenchSolution:
    """A ready-made solution: mmol of each component per mL, density [g/mL], the rest water."""

    key: str
    name: str
    density: Quantity
    components: Mapping[str, float]
    how_to_make: str
    cautions: str
    grade: str


@dataclass(frozen=True)
class Salt:
    """A salt as a reagent: what one mole of it becomes in water, the water it brings included."""

    key: str
    name: str
    molar_mass: float
    components: Mapping[str, float]
    source: str
    grade: str


@dataclass(frozen=True)
class Tables:
    """All tables, by key."""

    substances: Mapping[str, Substance]
    ions: Mapping[str, Ion]
    solvents: Mapping[str, Solvent]
    agents: Mapping[str, DryingAgent]
    solutions: Mapping[str, BenchSolution]
    salts: Mapping[str, Salt]
    sources: Mapping[str, str]

    def molar_mass(self, key: str) -> float:
        """Molar mass [g/mol] of a substance, salt or ion; KeyError where unknown."""
        if key in self.substances:
            return self.substances[key].molar_mass
        return self.salts[key].molar_mass if key in self.salts else self.ions[key].molar_mass

    def parts(self, key: str) -> Mapping[str, float]:
        """Components (mol per mol) of a substance, ion or salt."""
        return self.salts[key].components if key in self.salts else {key: 1.0}

    def material_name(self, key: str) -> str:
        """The plain name of a solvent, solution or drying agent; the key where unknown."""
        for table in (self.solutions, self.agents, self.substances):
            if key in table:
                return table[key].name
        return key.replace("_", " ")
