"""What must hold between the fields of one record, beyond each field's own range."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from workups.chemistry.materials import dissolved_g, left_when_complete
from workups.chemistry.readings import Readings, Witness
from workups.chemistry.setup import Reaction, Reagent, Setup
from workups.chemistry.substances import Antoine, Substance
from workups.exercise.exercise import Choice, Exercise
from workups.exercise.settings import SETTINGS

from .errors import Path
from .names import ROLE_TITLES, KnownNames, hint
from .substance_checks import check_antoine, check_own_substances, check_substance

Complaints = Iterator[tuple[Path, str]]
Check = Callable[[Any, KnownNames | None], Complaints]

LEAST_MMOL = 1e-6
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


def _value_names(setup: Setup, names: KnownNames) -> Complaints:
    for name in setup.values:
        head, *parts = name.split(":")
        if not parts:
            continue
        roles = {"log10_K": ("substance", "solvent"),
                 "log10_Kip": ("substance", "ion", "solvent")}.get(head, ("substance",))
        if len(parts) != len(roles):
            yield ("values", name), f'expected {":".join((head, *map(str.upper, roles)))}'
            continue
        for part, role in zip(parts, roles, strict=True):
            allowed = {"solvent": names.solvents, "ion": names.ions}.get(role, names.substances)
            if part not in allowed:
                yield ("values", name), (
                    f'"{part}" is no {role} of the tables{hint(part, allowed)}')


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
    Witness: check_witness,
    Readings: check_readings,
    Choice: check_choice,
    Exercise: check_exercise,
}
