"""What an exercise puts on the bench: reaction, starting mixture, materials, glassware."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from .fields import FLASK_LENGTH, declared, identifier, line, one_of
from .quantity import Quantity
from .substances import Substance, Tables
from .tables import tables_with


@dataclass(frozen=True)
class Spread:
    """A value with the range that 90 % of careful work falls into (5th to 95th percentile)."""

    low: float = field(metadata=declared("Low", "5th percentile of careful work", hint=""))
    nominal: float = field(metadata=declared("Expected", "what is expected", hint=""))
    high: float = field(metadata=declared("High", "95th percentile of careful work", hint=""))

    def __post_init__(self) -> None:
        if not self.low <= self.nominal <= self.high:
            raise ValueError(f"expected low <= nominal <= high, got {self}")


@dataclass(frozen=True)
class Reagent:
    """One line of the reagent table.

    Exactly one of ``mass_g``, ``volume_mL`` and ``amount_mmol`` is the planned amount.
    ``composition`` is for a reagent that is not one substance, such as a salt; empty means the
    substance itself.
    """

    substance: str = field(metadata=identifier(
        "Substance", "key of the substance, or a free name where composition is given"))
    role: str = field(metadata=line(
        "Role", "what it is there for, such as reactant, catalyst, solvent", hint="", filled=True))
    coefficient: float = field(metadata=declared(
        "Coefficient", "coefficient in the equation, 0 for a catalyst or solvent", hint="",
        low=0, high=20))
    mass_g: float | None = field(default=None, metadata=declared(
        "Mass", "planned mass", hint="", low=0, high=1000, unit="g"))
    volume_mL: float | None = field(default=None, metadata=declared(
        "or volume", "planned volume", hint="", low=0, high=2000, unit="mL"))
    amount_mmol: float | None = field(default=None, metadata=declared(
        "or amount", "planned amount", hint="", low=0, high=10_000, unit="mmol"))
    purity: float = field(default=1.0, metadata=declared(
        "Purity, mass fraction", "mass fraction of the substance itself", hint="", low=0.001,
        high=1, seldom=True))
    composition: Mapping[str, float] = field(default_factory=dict, metadata=declared(
        "Composition, if it is no single substance",
        "how many mol of each component in a mol, for a salt or a mixture",
        "One a line, as in sodium: 1. Mol of each in a mol.", key_role="component", low=-20,
        high=60, max_items=20, seldom=True))
    staff_dispensed: bool = field(default=False, metadata=declared(
        "Measured out by", "measured out by the staff, not by the student", hint="",
        words={"yes": "the staff", "no": "the student"}, seldom=True))


@dataclass(frozen=True)
class Product:
    """A product of the reaction and its coefficient."""

    substance: str = field(metadata=identifier("Substance", "key of the product", role="reagent"))
    coefficient: float = field(default=1.0, metadata=declared(
        "Coefficient", "coefficient in the equation", hint="", low=0, high=20))


@dataclass(frozen=True)
class Reaction:
    """The reaction that was run before the workup begins.

    With no products the starting mixture is just what was charged (a separation).
    """

    reagents: tuple[Reagent, ...] = field(metadata=declared(
        "Reagents", "the reagent table", written="reagent", max_items=20))
    products: tuple[Product, ...] = field(default=(), metadata=declared(
        "Products", "what the reaction makes; none for a separation", written="product",
        max_items=10))
    conversion: Spread = field(default=Spread(0.0, 0.0, 0.0), metadata=declared(
        "Conversion", "share of the limiting reagent turned into products, 0 to 1"))


@dataclass(frozen=True)
class Target:
    """A substance to be isolated, with the goals it is judged by."""

    substance: str = field(metadata=identifier(
        "Substance", "key of the substance to be isolated", role="substance"))
    flask: str = field(default="", metadata=line(
        "Weighed in", "the flask it is weighed in; empty: wherever the plan weighs it",
        max_length=FLASK_LENGTH))
    recovery_goal: float = field(default=0.95, metadata=declared(
        "Recovery goal", "share, 0 to 1, of what was there before the extraction that is enough",
        low=0, high=1))
    water_and_salt_limit: float = field(default=0.01, metadata=declared(
        "Water and salt allowed, mass fraction",
        "mass fraction of water, salt and drying agent allowed in the weighed product",
        low=0, high=1))
    product_state: str = field(default="oil", metadata=one_of(
        "Weighed as", "what is weighed", {"oil": "an oil", "solid": "a solid"}))


@dataclass(frozen=True)
class Glassware:
    """What the student works with."""

    funnel_mL: float = field(default=250.0, metadata=declared(
        "Separatory funnel", "capacity of the separatory funnel", low=10, high=5000, unit="mL"))
    balance_readability_g: float = field(default=0.01, metadata=declared(
        "Balance reads to", "smallest digit of the balance", low=1e-6, high=1, unit="g"))
    balance_repeatability_g: float | None = field(default=None, metadata=declared(
        "Balance repeats to",
        "standard deviation of one weighing; not given: equal to the readability",
        low=0, high=1, unit="g"))


@dataclass(frozen=True)
class OwnMaterial:
    """A solution that an exercise defines for itself."""

    key: str = field(metadata=identifier(
        "Short name", "name used in plans",
        hint="Lower-case letters, digits and _, a letter first.", pattern=r"[a-z][a-z0-9_]*",
        says="a name of lower-case letters, digits and _, a letter first"))
    name: str = field(metadata=line("Name", "name that students see", filled=True))
    density_g_mL: float = field(metadata=declared(
        "Density", "density", low=0.3, high=4, unit="g/mL"))
    components: Mapping[str, float] = field(metadata=declared(
        "Holds, mmol per mL",
        "how much of each component, in mmol per mL; the rest is water",
        "One a line, as in sodium: 1.5.", low=0, high=60, key_role="component", max_items=20))
    cautions: str = field(default="", metadata=declared("Cautions", "what to be careful about"))


@dataclass(frozen=True)
class SlowReaction:
    """A reaction in the funnel, first order in the substrate: a teaching estimate.

    ``kind`` ``base`` (rate k [OH-], the substrate in the water layer), ``acid`` (rate k [H+]).
    """

    substrate: str = field(metadata=identifier(
        "What reacts", "key of the substance that reacts", role="substance"))
    kind: str = field(metadata=one_of(
        "Driven by", "what drives it", {"base": "hydroxide", "acid": "acid"}))
    k_L_mol_s: Quantity = field(metadata=declared(
        "Rate constant", "rate constant at room temperature, a teaching estimate",
        "At room temperature."))
    products: Mapping[str, float] = field(metadata=declared(
        "What it makes, mol per mol",
        "how many mol of each are made per mol of substrate; negative: used up",
        "One a line, as in ethanol: 1. What is used up is negative.", key_role="component",
        low=-20, high=20, max_items=10))


@dataclass(frozen=True)
class AssumedReaction(SlowReaction):
    """What a product of a known class does where the exercise states nothing: a cautious guess for
    all of the class. What becomes of it is not followed."""

    of_class: str = ""


@dataclass(frozen=True)
class Setup:
    """All that the simulation needs to know of an exercise.

    ``values`` are the instructor's own values, ``log10_Kip`` an ion-pair allowance for a base; the
    names of practice values are in ``practice.py``. ``own_substances`` are not in the tables; look
    substances up in ``setup.tables``, which holds both.
    """

    reaction: Reaction = field(metadata=declared(
        "Reaction", "the reaction that was run before the workup"))
    targets: tuple[Target, ...] = field(metadata=declared(
        "Targets", "the products to be isolated", written="target", max_items=10))
    materials: tuple[str, ...] = field(metadata=identifier(
        "On the bench", "keys of the solvents, solutions and drying agents on the bench", hint="",
        role="material"))
    own_materials: tuple[OwnMaterial, ...] = field(default=(), metadata=declared(
        "Own solutions", "solutions that this exercise defines for itself",
        written="own_material", max_items=20))
    own_substances: tuple[Substance, ...] = field(default=(), metadata=declared(
        "Own substances", "substances that are not in the tables, for this exercise",
        written="substance", max_items=12))
    glassware: Glassware = field(default=Glassware(), metadata=declared(
        "Glassware", "what the student works with"))
    start_phase: str = field(default="organic", metadata=one_of(
        "On its own the mixture is", "the phase the starting mixture forms on its own",
        {"organic": "an organic liquid", "aqueous": "a solution in water"}))
    start_C: float = field(default=20.0, metadata=declared(
        "Temperature of the mixture", "temperature of the starting mixture", hint="", low=-80,
        high=250, unit="°C"))
    room_C: float = field(default=20.0, metadata=declared(
        "Temperature of the room", "temperature of the room", hint="", low=5, high=40, unit="°C"))
    values: Mapping[str, Quantity] = field(default_factory=dict, metadata=declared(
        "Own values",
        "the instructor's own values, by name: log10_K:SUBSTANCE:SOLVENT, pKa1:SUBSTANCE, "
        "log10_Kip:SUBSTANCE:ION:SOLVENT (a base that leaves as an ion pair, L/mol), or the name "
        "of a practice value"))
    slow_reactions: tuple[SlowReaction, ...] = field(default=(), metadata=declared(
        "Slow reactions", "reactions that go on in the funnel", written="slow_reaction",
        max_items=10))
    salting: bool = field(default=True, metadata=declared(
        "Dissolved salt drives substances out of the water",
        "dissolved salt drives substances out of the water layer", hint=""))
    cosolvent: bool = field(default=True, metadata=declared(
        "A water-miscible solvent holds substances in the water",
        "a water-miscible solvent holds substances in the water layer", hint=""))

    @cached_property
    def tables(self) -> Tables:
        """The tables with the exercise's own substances; the shared ones where it has none."""
        return tables_with(self.own_substances)

    @cached_property
    def reactions(self) -> tuple[SlowReaction, ...]:
        """The slow reactions as stated, and the assumed ones of the targets they leave out."""
        return (*self.slow_reactions, *self._assumed())

    def _assumed(self) -> Iterator[AssumedReaction]:
        """By the class of each target. None for what has a pKa: an ion resists other ions, and
        how much is not known for a class."""
        stated = {(r.substrate, r.kind) for r in self.slow_reactions}
        for key in dict.fromkeys(t.substance for t in self.targets):
            substance = self.tables.substances.get(key)
            for rate in self.tables.class_rates:
                if (substance is not None and not substance.pKa and (key, rate.kind) not in stated
                        and rate.of_class in substance.classes):
                    yield AssumedReaction(key, rate.kind, rate.k_L_mol_s, {}, rate.of_class)
