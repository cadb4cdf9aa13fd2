"""What must hold between the fields of one record, beyond each field's own range."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from workups.chemistry.materials import dissolved_g, left_when_complete
from workups.chemistry.ownable import ION_PAIR, POINTING, RATE, ownable
from workups.chemistry.practice import PRACTICE
from workups.chemistry.quantity import Quantity
from workups.chemistry.readings import Readings, Witness
from workups.chemistry.setup import Reaction, Reagent, Setup, SlowReaction
from workups.chemistry.substances import Antoine, Property, Substance
from workups.exercise.exercise import Choice, Exercise
from workups.exercise.settings import SETTINGS

from .errors import Path
from .names import ROLE_TITLES, KnownNames, hint
from .substance_checks import (
    check_antoine,
    check_own_substances,
    check_substance,
    check_value,
)

Complaints = Iterator[tuple[Path, str]]
Check = Callable[[Any, KnownNames | None], Complaints]

LEAST_MMOL = 1e-6
# Factors are drawn log-normal: a wider one says nothing.
MOST_RELATIVE = 100.0
AMOUNTS = ("mass_g", "volume_mL", "amount_mmol")


def check_reagent(reagent: Reagent, names: KnownNames | None) -> Complaints:
    """One planned amount; a name of the tables unless its composition is given."""
    given = [name for name in AMOUNTS if getattr(reagent, name) is not None]
    if len(given) != 1:
        found = " and ".join(given) if given else "none"
        yield (), f"expected exactly one of {', '.join(AMOUNTS)}, found {found}"
    if names is None or reagent.composition or reagent.substance in names.reagents:
        return
    yield ("substance",), (f'expected {ROLE_TITLES["reagent"]}, found "{reagent.substance}"'
                        f"{hint(reagent.substance, names.reagents)}")


def check_reaction(reaction: Reaction, _: KnownNames | None) -> Complaints:
    """Something is charged, something limits a reaction, and conversion is a share."""
    if not reaction.reagents:
        yield ("reagent",), "expected at least one reagent, found none"
    if reaction.products and not any(r.coefficient > 0 for r in reaction.reagents):
        yield ("reagent",), "expected a reagent with a coefficient above 0, found none"
    if reaction.conversion.low < 0 or reaction.conversion.high > 1:
        yield ("conversion",), "expected a share from 0 to 1"


def check_setup(setup: Setup, names: KnownNames | None) -> Complaints:
    """Targets are there to be isolated, and names of values and own solutions can be used."""
    if not setup.targets:
        yield ("target",), "expected at least one target, found none"
    charged = [r.substance for r in setup.reaction.reagents]
    present = {*charged, *(p.substance for p in setup.reaction.products),
               *(c for r in setup.reaction.reagents for c in r.composition)}
    for number, target in enumerate(setup.targets, 1):
        if target.substance not in present:
            yield ("target", number), (
                f'"{target.substance}" is neither charged nor made in the reaction'
                f"{hint(target.substance, present)}")
    if len({t.substance for t in setup.targets}) < len(setup.targets):
        yield ("target",), "the same substance is a target twice"
    if len(set(setup.materials)) < len(setup.materials):
        doubled = sorted({m for m in setup.materials if setup.materials.count(m) > 1})
        yield ("materials",), f"listed twice: {', '.join(doubled)}"
    yield from _own_keys(setup)
    yield from _less_than_nothing(setup)
    yield from check_own_substances(setup)
    yield from _own_values(setup)
    if names is not None:
        yield from _value_names(setup, names)


def _less_than_nothing(setup: Setup) -> Complaints:
    """No component of the mixture below nothing, no solution with less than no water.

    A composition may take up water that another reagent brings; and the reagent of a reaction
    (an acid chloride, written as acid, chloride and less water) that of the quench, for what is
    left of it. What is not in the tables is complained of where it is named.
    """
    tables = setup.tables
    for number, own in enumerate(setup.own_materials, 1):
        if all(k in tables.substances or k in tables.ions for k in own.components):
            mass_g = dissolved_g(own.components, tables)
            if mass_g > own.density_g_mL:
                yield ("own_material", number, "components"), (
                    f"what is dissolved in a mL weighs {mass_g:.2f} g, the mL itself "
                    f"{own.density_g_mL:g} g: less than no water is left")
    try:
        charged = left_when_complete(setup)
    except (KeyError, ValueError):
        return
    for key, amount in charged.items():
        if amount < -LEAST_MMOL:
            yield ("reaction", "reagent"), (
                f"the mixture would hold {amount:.3g} mmol of {key.replace('_', ' ')}: a "
                "composition takes up more than all reagents bring")


def _own_keys(setup: Setup) -> Complaints:
    own = [m.key for m in setup.own_materials]
    if len(set(own)) < len(own):
        yield ("own_material",), "two own solutions have the same key"


def _own_values(setup: Setup) -> Complaints:
    """Each under a name that something is reckoned with, in its unit."""
    for name, value in setup.values.items():
        known = ownable(name)
        if known is None:
            yield ("values", name), (
                "is no value that an exercise can replace: expected a practice value or one of "
                f"{', '.join(_spelt(head) for head in POINTING)}{_nearest_value(name)}")
        elif name in PRACTICE:
            yield from _check_factor(("values", name), value, known)
        else:
            yield from check_value(("values", name), value, known)


def _spelt(head: str) -> str:
    return ":".join((head, *map(str.upper, POINTING[head][1])))


def _nearest_value(name: str) -> str:
    head, colon, _ = name.partition(":")
    return hint(head, POINTING) if colon else hint(name, PRACTICE)


def _check_factor(path: Path, value: Quantity, known: Property) -> Complaints:
    """A value that is drawn as a factor of itself."""
    complaints = list(check_value(path, value, known))
    yield from complaints
    if not complaints and value.uncertainty > MOST_RELATIVE * value.value > 0:
        yield (*path, "uncertainty"), (
            f"expected at most {MOST_RELATIVE:g} times the value, found {value.uncertainty:g}")


def _value_names(setup: Setup, names: KnownNames) -> Complaints:
    """What names point to is in the tables, and has what is to be replaced."""
    for name in setup.values:
        head, *parts = name.split(":")
        if not parts or head not in POINTING:
            continue
        roles = POINTING[head][1]
        if len(parts) != len(roles):
            yield ("values", name), f"expected {_spelt(head)}"
            continue
        strange = False
        for part, role in zip(parts, roles, strict=True):
            allowed = {"solvent": names.solvents, "ion": names.ions}.get(role, names.substances)
            if part not in allowed:
                strange = True
                yield ("values", name), (
                    f'"{part}" is no {role} of the tables{hint(part, allowed)}')
        if not strange:
            yield from _has_it(name, head, setup.tables.substances[parts[0]])


def _has_it(name: str, head: str, substance: Substance) -> Complaints:
    """Nothing is reckoned with a pKa that the tables do not have, nor with a pair of an acid."""
    if head.startswith("pKa") and head not in substance.values:
        count = len(substance.pKa)
        yield ("values", name), (
            f"{substance.name} has {count or 'no'} pKa in the tables: bring it along as an own "
            "substance to give it another")
    if head == ION_PAIR and substance.charge_top < 1:
        yield ("values", name), f"{substance.name} is no base: expected one for an ion pair"


def check_slow_reaction(slow: SlowReaction, _: KnownNames | None) -> Complaints:
    """A rate in the unit that is reckoned with."""
    yield from _check_factor(("k_L_mol_s",), slow.k_L_mol_s, RATE)


def check_witness(witness: Witness, _: KnownNames | None) -> Complaints:
    """A melting range goes upwards."""
    if (witness.low_C is not None and witness.high_C is not None
            and witness.low_C > witness.high_C):
        yield ("high_C",), f"expected at least {witness.low_C:g} °C, found {witness.high_C:g}"


def check_readings(readings: Readings, _: KnownNames | None) -> Complaints:
    """One volume for a flask at a step."""
    places = {(seen.step, seen.flask) for seen in readings.volumes}
    if len(places) < len(readings.volumes):
        yield ("volume",), "two entries have the same step and flask"


def check_choice(choice: Choice, _: KnownNames | None) -> Complaints:
    """A setting that exists, with a value it can take."""
    setting = SETTINGS.get(choice.key)
    complaint = setting.complaint(choice.value) if setting else ""
    if complaint:
        near = hint(choice.value, setting.values) if setting else ""
        yield ("value",), f'{complaint}, found "{choice.value}"{near}'


def check_exercise(exercise: Exercise, _: KnownNames | None) -> Complaints:
    """Each setting is chosen once."""
    keys = [c.key for c in exercise.choices]
    for key in sorted({k for k in keys if keys.count(k) > 1}):
        yield ("choice",), f'"{key}" is chosen twice'


RECORD_CHECKS: Mapping[type, Check] = {
    Reagent: check_reagent,
    Reaction: check_reaction,
    Setup: check_setup,
    Substance: check_substance,
    Antoine: check_antoine,
    SlowReaction: check_slow_reaction,
    Witness: check_witness,
    Readings: check_readings,
    Choice: check_choice,
    Exercise: check_exercise,
}
