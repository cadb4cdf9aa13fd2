"""What the tables know of substances, ions, solvents, drying agents and bench solutions."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from .constants import ABSOLUTE_ZERO_C, ATMOSPHERE_PA, PROTON_G_MOL
from .fields import declared, identifier, line, one_of
from .quantity import GRADES, GRADES_MEAN, Quantity


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

    A: float = field(metadata=declared("A", "A", low=-20, high=40))
    B: float = field(metadata=declared("B", "B", low=0, high=20_000, unit="K"))
    C: float = field(metadata=declared("C", "C", low=-500, high=500, unit="K"))
    T_min_K: float = field(metadata=declared(
        "From", "lowest temperature it holds for", low=50, high=1500, unit="K"))
    T_max_K: float = field(metadata=declared(
        "To", "highest temperature it holds for", low=50, high=1500, unit="K"))
    uncertainty_pct: float = field(metadata=declared(
        "Standard uncertainty", "standard uncertainty of the pressure", low=0, high=100, unit="%"))
    source: str = field(metadata=line("Source", "where it comes from", filled=True))
    grade: str = field(metadata=one_of("Grade", GRADES_MEAN, GRADES))

    def pressure_Pa(self, T_K: float) -> float:
        """Saturation pressure [Pa] at T [K]; outside the validity range an extrapolation.

        >>> water = Antoine(10.11564, 1687.537, -42.98, 273.2, 473.2, 1.5, "poling", "A")
        >>> round(water.pressure_Pa(373.15) / 101325.0, 2)
        1.0
        """
        return float(10.0 ** (self.A - self.B / (T_K + self.C)))

    def boils_at_K(self) -> float:
        """Temperature [K] at which the pressure is one atmosphere."""
        return self.B / (self.A - math.log10(ATMOSPHERE_PA)) - self.C


@dataclass(frozen=True)
class Substance:
    """A substance with all its protonation states together.

    ``charge_top`` is the charge of the most protonated form that counts in water, -1 for
    hydrogensulfate. ``values`` are by the names of ``PROPERTIES``.
    """

    key: str = field(metadata=identifier(
        "Short name", "name used in this exercise; not one of the tables", seldom=True,
        pattern=r"[a-z0-9][a-z0-9_]*", says="a name of lower-case letters, digits and _"))
    name: str = field(metadata=line("Name", "name that students see", filled=True))
    molar_mass: float = field(metadata=declared(
        "Molar mass", "molar mass of the neutral form", low=1, high=5000, unit="g/mol",
        written="molar_mass_g_mol"))
    source: str = field(metadata=line(
        "Source of structure and molar mass", "where structure and molar mass come from",
        filled=True))
    grade: str = field(metadata=one_of("Grade of these", GRADES_MEAN, GRADES))
    cas: str = field(default="", metadata=identifier(
        "CAS number", "CAS number", filled=False, pattern=r"(\d{2,7}-\d{2}-\d)?",
        says="a CAS number such as 50-00-0, or nothing"))
    smiles: str = field(default="", metadata=line(
        "Structure, SMILES", "structure in SMILES notation"))
    charge_top: int = field(default=0, metadata=declared(
        "Charge with all its protons",
        "charge with all its protons: 0 for an acid or a neutral substance, 1 for an amine",
        low=-3, high=3))
    classes: frozenset[str] = field(default=frozenset(), metadata=declared(
        "Kinds",
        "what kind of substance it is; ionisable: gives off or takes up a proton in some other "
        "way than as a carboxylic acid, phenol or amine",
        "One a line, such as carboxylic_acid, phenol, amine, ester, ether.",
        choices=SUBSTANCE_CLASSES))
    hazards: tuple[str, ...] = field(default=(), metadata=identifier(
        "Hazard statements", "hazard statements",
        hint="One a line, such as H315, from the safety data sheet.", filled=False,
        pattern=r"(H|EUH)\d{3}[A-Za-z]{0,3}", says="a hazard statement such as H315",
        max_items=40))
    values: Mapping[str, Quantity] = field(default_factory=dict, metadata=declared(
        "Constants", "constants by name: pKa1, pKa2, pKa3, log_kow, melting_point and others",
        key_choices={name: known.title for name, known in PROPERTIES.items()}))
    partition: Mapping[str, Quantity] = field(default_factory=dict, metadata=declared(
        "log10 K",
        "log10 of the partition coefficient of the neutral form, solvent over water, by solvent",
        written="log10_K", key_role="extraction solvent"))
    antoine: Antoine | None = field(default=None, metadata=declared(
        "Vapour pressure",
        "vapour pressure: log10(P/Pa) = A - B/(T/K + C); without it nothing of it goes with the "
        "vapour"))

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
    ``wetting`` mL of free liquid held per g; ``cake`` mL of organic liquid held per g;
    ``clump_from`` mol water per mol above which the grains stick together.
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
    clump_from: Quantity
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
    cas: str = ""


@dataclass(frozen=True)
class ClassRate:
    """How fast substances of a class fall apart in water: ``kind`` ``base`` or ``acid``, ``k``
    [L/(mol s)] with a wide standard uncertainty."""

    of_class: str
    kind: str
    k_L_mol_s: Quantity


@dataclass(frozen=True)
class Tables:
    """All tables, by key."""

    substances: Mapping[str, Substance]
    ions: Mapping[str, Ion]
    solvents: Mapping[str, Solvent]
    agents: Mapping[str, DryingAgent]
    solutions: Mapping[str, BenchSolution]
    salts: Mapping[str, Salt]
    class_rates: tuple[ClassRate, ...]
    sources: Mapping[str, str]

    def molar_mass(self, key: str) -> float:
        """Molar mass [g/mol] of a substance, salt or ion; KeyError where unknown."""
        if key in self.substances:
            return self.substances[key].molar_mass
        return self.salts[key].molar_mass if key in self.salts else self.ions[key].molar_mass

    def counted_mass(self, key: str) -> float:
        """Molar mass [g/mol] of a component as masses are summed: an ion with the proton that it
        stands in for."""
        if key in self.substances:
            return self.substances[key].molar_mass
        ion = self.ions[key]
        return ion.molar_mass - PROTON_G_MOL * ion.charge

    def parts(self, key: str) -> Mapping[str, float]:
        """Components (mol per mol) of a substance, ion or salt."""
        return self.salts[key].components if key in self.salts else {key: 1.0}

    def material_name(self, key: str) -> str:
        """The plain name of a solvent, solution or drying agent; the key where unknown."""
        for table in (self.solutions, self.agents, self.substances):
            if key in table:
                return table[key].name
        return key.replace("_", " ")
