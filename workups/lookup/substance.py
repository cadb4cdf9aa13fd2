"""The entry point: everything known of a substance, from the best source first."""

from collections import Counter
from collections.abc import Iterator, Mapping
from functools import lru_cache

from workups.chemistry.limits import SOLID_ABOVE_C
from workups.chemistry.quantity import Quantity
from workups.chemistry.substances import Antoine, Substance
from workups.chemistry.tables import tables

from .acidity import BY_CLASS, estimated_pKa
from .found import Found, NotFound
from .identity import Identity, identify
from .measured import Readings, measured_values
from .partition import estimated_partition
from .structure import NotAStructureError, Structure, crippen_log_kow, read_structure

VOLATILE_BELOW_C = 230.0


@lru_cache(maxsize=256)
def look_up(text: str) -> Found | NotFound:
    """A substance by name, CAS number or SMILES, or why it was not found.

    Values of our own tables win, then measured ones of ``chemicals`` with the table named, then
    estimates from structure, marked as such. Salts and mixtures are refused: the simulation
    takes their parts one by one.

    >>> look_up("butyl 4-tolyl ether nonsense").reason
    'Neither our tables nor the library know it, and it is no structure in SMILES notation.'
    """
    identity = identify(text)
    if isinstance(identity, NotFound):
        return identity
    try:
        structure = read_structure(identity.smiles)
    except NotAStructureError as error:
        return NotFound(text, f"{identity.name}: {error}.")
    if structure.parts > 1:
        return NotFound(text, f"{identity.name} is a salt or mixture: look its parts up.")
    readings = measured_values(identity.cas) if identity.cas else Readings()
    return _ours(text, identity, structure, readings) if identity.key else _theirs(
        text, identity, structure, readings)


def _ours(text: str, identity: Identity, structure: Structure, readings: Readings) -> Found:
    """A substance of our tables; what they lack is filled in from the library."""
    known = tables().substances[identity.key]
    return Found(
        text, known.key, known.name, known.cas, known.smiles, structure.formula,
        Quantity(known.molar_mass, "g/mol", 0.01, known.source, known.grade),
        known.charge_top, known.classes, {**readings.values, **known.values},
        _partition(known, structure), known.antoine or readings.antoine,
    )


def _partition(known: Substance, structure: Structure) -> dict[str, Quantity]:
    """What our tables hold; nothing is estimated for what no organic solvent takes up."""
    log_kow = known.values.get("log_kow")
    if log_kow is None or "inorganic" in known.classes:
        return dict(known.partition)
    return {**estimated_partition(structure.smiles, log_kow), **known.partition}


def _theirs(text: str, identity: Identity, structure: Structure, readings: Readings) -> Found:
    values = dict(readings.values)
    if "log_kow" not in values:
        values["log_kow"] = crippen_log_kow(structure.smiles)
    values |= estimated_pKa(structure.smiles)
    solubility = _solubility(values, structure)
    if solubility is not None:
        values["water_solubility"] = solubility
    return Found(
        text, "", identity.name, identity.cas, structure.smiles, structure.formula,
        structure.molar_mass, structure.charge_top, structure.classes, values,
        estimated_partition(structure.smiles, values["log_kow"]),
        readings.antoine, tuple(readings.refused),
        missing_values(values, structure, readings.antoine), structure.ionisable,
    )


def _solubility(values: dict[str, Quantity], structure: Structure) -> Quantity | None:
    """Solubility of a solid in water [g/L] from melting point and log Kow, an estimate.

    log10(S/(mol/L)) = 0.5 - 0.01 (mp/C - 25) - log Kow, within a factor of three: Ran and
    Yalkowsky, J. Chem. Inf. Comput. Sci. 2001, 41, 354 (https://doi.org/10.1021/ci000338c).
    """
    melts = values.get("melting_point")
    if melts is None or melts.value < SOLID_ABOVE_C:
        return None
    log_molar = 0.5 - 0.01 * (melts.value - 25.0) - values["log_kow"].value
    value = 10.0**log_molar * structure.molar_mass.value
    return Quantity(float(f"{value:.3g}"), "g/L", float(f"{0.8 * value:.2g}"),
                    "general_solubility_equation", "B",
                    "estimate from melting point and log Kow, within a factor of three")


def missing_values(
    values: Mapping[str, Quantity], structure: Structure, antoine: Antoine | None
) -> tuple[str, ...]:
    """What an author has to supply, in sentences."""
    missing = [*_pKa_to_give(values, structure)]
    missing += [f"{group}: what water turns it into, and how fast (a slow reaction, or its "
                "product instead)" for group in structure.reacts_with_water]
    if "melting_point" not in values:
        missing.append("melting point: whether it comes out as a solid is not known")
    if "density" not in values and values.get("melting_point") and (
            values["melting_point"].value <= SOLID_ABOVE_C):
        missing.append("density of the liquid")
    if "boiling_point" not in values:
        missing.append("boiling point: how much goes with the solvent is not known")
    elif antoine is None and values["boiling_point"].value < VOLATILE_BELOW_C:
        missing.append("vapour pressure: without it nothing of it goes with the solvent")
    return tuple(missing)


def _pKa_to_give(values: Mapping[str, Quantity], structure: Structure) -> Iterator[str]:
    """Those of which nothing is known, and those that are only estimated by class."""
    given = [values[name] for name in ("pKa1", "pKa2", "pKa3") if name in values]
    groups = Counter(g.replace("_", " ") for g in structure.ionisable)
    left = len(structure.ionisable) - len(given)
    if given and left > 0:
        yield f"{left} more pKa, of {' or '.join(groups)}"
    elif left > 0:
        for group, count in groups.items():
            yield f"pKa of the {group}" if count == 1 else f"{count} pKa values: {group}"
    for quantity in given:
        if quantity.note.startswith(BY_CLASS):
            yield (f"a measured pKa in place of {quantity.value:.1f} ± {quantity.uncertainty:.1f}, "
                   f"which is estimated by class ({quantity.note.removeprefix(BY_CLASS)})")
