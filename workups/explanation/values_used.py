"""The constants an exercise rests on, each with its source and grade."""

from collections.abc import Iterator
from dataclasses import dataclass

from workups.chemistry.constants import KELVIN_AT_0_C, MBAR_PA
from workups.chemistry.draws import Draws
from workups.chemistry.inventory import build_inventory, partition_quantity
from workups.chemistry.quantity import Quantity
from workups.chemistry.setup import AssumedReaction
from workups.chemistry.substances import Antoine, Substance, Tables
from workups.exercise.exercise import Exercise
from workups.words.material_facts import material_name, substance_name
from workups.words.numbers import amount, with_uncertainty

GRADE_WORDS = {"A": "read in a table", "B": "from memory: check", "P": "common practice, no source"}
_ORDER = {"B": 0, "P": 1, "A": 2}
_TITLES = {
    "density": "density",
    "apparent_molar_volume": "apparent molar volume",
    "pKa1": "pKa",
    "pKa2": "second pKa",
    "pKa3": "third pKa",
    "water_solubility": "solubility in water",
    "water_in_solvent": "water in the solvent",
    "solvent_in_water": "solvent in water",
}


@dataclass(frozen=True)
class UsedValue:
    """One constant: of what, which, its value with standard uncertainty, and where from."""

    of: str
    what: str
    quantity: Quantity
    source: str

    @property
    def shown(self) -> str:
        """The value with its standard uncertainty and unit, in words."""
        q = self.quantity
        unit = "" if q.unit == "1" else q.unit
        return with_uncertainty(q.value, q.uncertainty, unit)

    @property
    def grade_words(self) -> str:
        return GRADE_WORDS[self.quantity.grade]

    @property
    def is_checked(self) -> bool:
        """Whether it was read in a named source."""
        return self.quantity.grade == "A"


def values_used(exercise: Exercise) -> tuple[UsedValue, ...]:
    """Constants of everything that can occur in an exercise, those from memory first."""
    known = exercise.setup.tables
    found = [
        *_own(exercise, known),
        *_of_substances(exercise, known),
        *_of_materials(exercise, known),
        *_of_slow_reactions(exercise, known),
    ]
    return tuple(sorted(found, key=lambda v: (_ORDER[v.quantity.grade], v.of, v.what)))


def _used(of: str, what: str, quantity: Quantity, known: Tables) -> UsedValue:
    return UsedValue(of, what, quantity, known.sources.get(quantity.source, quantity.source))


def _own(exercise: Exercise, known: Tables) -> Iterator[UsedValue]:
    for name, quantity in exercise.setup.values.items():
        yield _used("this exercise", name, quantity, known)


def _of_substances(exercise: Exercise, known: Tables) -> Iterator[UsedValue]:
    inventory = build_inventory(exercise.setup, known, Draws(1, 1))
    for key in inventory.keys:
        if key not in known.substances:
            continue
        substance = known.substances[key]
        for name, title in _TITLES.items():
            if name in substance.values and not _is_idle(name, substance):
                yield _used(substance.name, title, substance.values[name], known)
        if substance in exercise.setup.own_substances:
            molar_mass = Quantity(substance.molar_mass, "g/mol", 0.0, substance.source,
                                  substance.grade)
            yield _used(substance.name, "structure and molar mass", molar_mass, known)
        if substance.antoine is not None:
            yield _vapour(substance, substance.antoine, exercise.setup.room_C, known)
        for solvent in inventory.solvents:
            k = partition_quantity(substance, solvent, exercise.setup)
            if k is not None and not _is_own(exercise, key, solvent):
                words = f"log10 K, {substance_name(solvent, known)} over water"
                yield _used(substance.name, words, k, known)


def _vapour(substance: Substance, antoine: Antoine, room_C: float, known: Tables) -> UsedValue:
    """The vapour pressure in the room, and where the equation holds."""
    pressure = antoine.pressure_Pa(room_C + KELVIN_AT_0_C) / MBAR_PA
    low, high = (t - KELVIN_AT_0_C for t in (antoine.T_min_K, antoine.T_max_K))
    what = (f"vapour pressure at {amount(room_C, '°C')} (equation for {low:.0f} to "
            f"{amount(round(high), '°C')})")
    quantity = Quantity(pressure, "mbar", pressure * antoine.uncertainty_pct / 100.0,
                        antoine.source, antoine.grade)
    return _used(substance.name, what, quantity, known)


def _is_idle(name: str, substance: Substance) -> bool:
    """The apparent volume stands in only where there is no density."""
    return name == "apparent_molar_volume" and "density" in substance.values


def _is_own(exercise: Exercise, key: str, solvent: str) -> bool:
    return f"log10_K:{key}:{solvent}" in exercise.setup.values


def _of_materials(exercise: Exercise, known: Tables) -> Iterator[UsedValue]:
    for key in exercise.setup.materials:
        name = material_name(key, exercise)
        if key in known.solvents:
            yield _used(name, "droplets left after a shake", known.solvents[key].droplets, known)
        if key in known.solutions:
            yield _used(name, "density", known.solutions[key].density, known)
        if key in known.agents:
            agent = known.agents[key]
            yield _used(name, "liquid held by the cake", agent.cake, known)
            yield _used(name, "liquid held while still loose", agent.wetting, known)


def _of_slow_reactions(exercise: Exercise, known: Tables) -> Iterator[UsedValue]:
    for slow in exercise.setup.reactions:
        name, words = substance_name(slow.substrate, known), f"rate with {slow.kind}"
        if isinstance(slow, AssumedReaction):
            words += f", assumed for every {slow.of_class}; state your own to replace it"
        yield _used(name, words, slow.k_L_mol_s, known)
