"""What an exercise puts on the bench: reaction, starting mixture, materials, glassware."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from .quantity import Quantity
from .substances import Substance, Tables
from .tables import tables_with


@dataclass(frozen=True)
class Spread:
    """A value with the range that 90 % of careful work falls into (5th to 95th percentile)."""

    low: float
    nominal: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.nominal <= self.high:
            raise ValueError(f"expected low <= nominal <= high, got {self}")


@dataclass(frozen=True)
class Reagent:
    """One line of the reagent table.

    ``coefficient`` is 0 for a catalyst or solvent. Exactly one of ``mass_g``, ``volume_mL`` and
    ``amount_mmol`` is the planned amount. ``composition`` (mol of component per mol) is for a
    reagent that is not one substance, such as a salt; empty means the substance itself.
    ``staff_dispensed`` lines are not measured by the student.
    """

    substance: str
    role: str
    coefficient: float
    mass_g: float | None = None
    volume_mL: float | None = None
    amount_mmol: float | None = None
    purity: float = 1.0
    composition: Mapping[str, float] = field(default_factory=dict)
    staff_dispensed: bool = False


@dataclass(frozen=True)
class Product:
    """A product of the reaction and its coefficient."""

    substance: str
    coefficient: float = 1.0


@dataclass(frozen=True)
class Reaction:
    """The reaction that was run before the workup begins.

    ``conversion`` is the share of the limiting reagent turned into products. With no products the
    starting mixture is just what was charged (a separation).
    """

    reagents: tuple[Reagent, ...]
    products: tuple[Product, ...] = ()
    conversion: Spread = Spread(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Target:
    """A substance to be isolated, with the goals it is judged by.

    ``recovery_goal`` share of what was there before the extraction; ``water_and_salt_limit`` mass
    fraction of water, salt and agent allowed in the weighed product.
    """

    substance: str
    flask: str = ""
    recovery_goal: float = 0.95
    water_and_salt_limit: float = 0.01
    product_state: str = "oil"


@dataclass(frozen=True)
class Glassware:
    """What the student works with. Balance readability and repeatability in g."""

    funnel_mL: float = 250.0
    balance_readability_g: float = 0.01
    balance_repeatability_g: float | None = None


@dataclass(frozen=True)
class OwnMaterial:
    """A solution that an exercise defines for itself (``components`` in mmol per mL)."""

    key: str
    name: str
    density_g_mL: float
    components: Mapping[str, float]
    cautions: str = ""


@dataclass(frozen=True)
class SlowReaction:
    """A reaction in the funnel, first order in the substrate: a teaching estimate.

    ``kind`` ``base`` (rate k [OH-], the substrate in the water layer), ``acid`` (rate k [H+]).
    ``k_L_mol_s`` at room temperature; ``products`` per mol of substrate, water used as negative.
    """

    substrate: str
    kind: str
    k_L_mol_s: Quantity
    products: Mapping[str, float]


@dataclass(frozen=True)
class Setup:
    """All that the simulation needs to know of an exercise.

    ``materials`` are keys of solvents, bench solutions and drying agents a plan may use.
    ``start_phase`` is the phase the starting mixture forms on its own: ``organic``/``aqueous``.
    ``values`` are the instructor's own values, by name: ``log10_K:SUBSTANCE:SOLVENT``,
    ``pKa1:SUBSTANCE``, ``log10_Kip:SUBSTANCE:ION:SOLVENT`` (an ion-pair allowance for a base) and
    the names of practice values (see ``practice.py``). ``own_substances`` are not in the tables;
    look substances up in ``setup.tables``, which holds both.
    """

    reaction: Reaction
    targets: tuple[Target, ...]
    materials: tuple[str, ...]
    own_materials: tuple[OwnMaterial, ...] = ()
    own_substances: tuple[Substance, ...] = ()
    glassware: Glassware = Glassware()
    start_phase: str = "organic"
    start_C: float = 20.0
    room_C: float = 20.0
    values: Mapping[str, Quantity] = field(default_factory=dict)
    slow_reactions: tuple[SlowReaction, ...] = ()
    salting: bool = True
    cosolvent: bool = True

    @cached_property
    def tables(self) -> Tables:
        """The tables with the exercise's own substances; the shared ones where it has none."""
        return tables_with(self.own_substances)
