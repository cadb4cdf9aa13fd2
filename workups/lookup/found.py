"""What a look-up gives back."""

from collections.abc import Mapping
from dataclasses import dataclass

from workups.chemistry.quantity import Quantity
from workups.chemistry.substances import Antoine, Substance


@dataclass(frozen=True)
class NotFound:
    """Nothing was found: why, in a sentence, and names of our tables that look alike."""

    query: str
    reason: str
    similar: tuple[str, ...] = ()


@dataclass(frozen=True)
class Found:
    """A substance with everything known of it.

    ``key`` is its key in the core's tables, empty where it is not there. ``values`` are by the
    property names of ``values.csv``, ``partition`` log10 K (organic over water, neutral form) by
    solvent key. An estimate is grade B, its note begins with "estimate". ``refused`` says what a
    library offered and was not taken, ``missing`` what the simulation would need and nobody knows:
    for the author to supply; ``ionisable`` its groups that give off or take up a proton, each as
    often as it occurs.
    """

    query: str
    key: str
    name: str
    cas: str
    smiles: str
    formula: str
    molar_mass: Quantity
    charge_top: int
    classes: frozenset[str]
    values: Mapping[str, Quantity]
    partition: Mapping[str, Quantity]
    antoine: Antoine | None = None
    refused: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    ionisable: tuple[str, ...] = ()


def to_substance(found: Found, key: str = "") -> Substance:
    """The core's record of what was found, under ``key`` (default: its own, else its CAS).

    Raises ValueError where there is no key to give.
    """
    key = key or found.key or found.cas
    if not key:
        raise ValueError(f"{found.name} needs a key")
    return Substance(
        key, found.name, found.molar_mass.value, found.molar_mass.source, found.molar_mass.grade,
        cas=found.cas, smiles=found.smiles, charge_top=found.charge_top, classes=found.classes,
        values=dict(found.values), partition=dict(found.partition), antoine=found.antoine,
    )
