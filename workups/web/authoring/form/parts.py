"""The parts of the author form, in the order a person thinks of them."""

from collections.abc import Mapping
from dataclasses import dataclass

from workups.grading.exercise import CHECKS

Words = tuple[str, ...]
PLAN, MATERIALS, CHOICES, VALUES = "plan", "bench", "choices", "values"
SUBSTANCES = "substances"


@dataclass(frozen=True)
class Group:
    """Fields that are there once, by their dotted paths."""

    title: str
    paths: tuple[str, ...]
    help: str = ""

    @property
    def keys(self) -> list[Words]:
        return [tuple(path.split(".")) for path in self.paths]


@dataclass(frozen=True)
class Rows:
    """A list of tables with the same fields; `one` is what one of them is called."""

    title: str
    one: str
    path: Words
    fields: tuple[str, ...]
    help: str = ""
    seldom: tuple[str, ...] = ()


@dataclass(frozen=True)
class Settings:
    """The points on which instructors differ, each with its value and reason."""

    path: Words = ("choice",)


@dataclass(frozen=True)
class OwnValues:
    """The instructor's own values, by name."""

    path: Words = ("values",)


@dataclass(frozen=True)
class Priors:
    """How likely each explanation of a mass is, before a record is seen."""

    help: str = ""
    path: Words = ("priors",)


Block = Group | Rows | Settings | OwnValues | Priors


@dataclass(frozen=True)
class Part:
    """A page of the form. `keys` are what it changes of the document without a block for it."""

    slug: str
    title: str
    lead: str
    blocks: tuple[Block, ...] = ()
    keys: tuple[Words, ...] = ()

    @property
    def places(self) -> tuple[Words, ...]:
        """The paths of the document that this part is about."""
        own: list[Words] = list(self.keys)
        for block in self.blocks:
            own += block.keys if isinstance(block, Group) else [block.path]
        return tuple(own)


_IDENTITY = ("name", "smiles", "cas", "molar_mass_g_mol", "classes", "charge_top", "hazards",
             "source", "grade")


def _constants(*names: str) -> tuple[str, ...]:
    fields = ("value", "uncertainty", "source", "grade", "note")
    return tuple(f"values.{name}.{field}" for name in names for field in fields)


PARTS: tuple[Part, ...] = (
    Part(
        "exercise",
        "The exercise",
        "What students see in their list.",
        (Group("", ("title", "texts.summary", "key")),),
    ),
    Part(
        "reaction",
        "Reaction table",
        "What was charged before the workup, what it became, and how far it went. A separation "
        "without a reaction has reagents with coefficient 0 and no product.",
        (
            Rows(
                "Reagents",
                "reagent",
                ("reaction", "reagent"),
                ("substance", "role", "coefficient", "mass_g", "volume_mL", "amount_mmol"),
                "One planned amount each: a mass, a volume or an amount. Coefficient 0 for a "
                "catalyst, a solvent, and for everything in a separation.",
                ("purity", "staff_dispensed", "composition"),
            ),
            Rows("Products", "product", ("reaction", "product"), ("substance", "coefficient")),
            Group(
                "Conversion",
                (
                    "reaction.conversion.low",
                    "reaction.conversion.nominal",
                    "reaction.conversion.high",
                ),
                "Share of the limiting reagent that turned over, 0 to 1: the range of careful work "
                "in a class. All 0 for a separation.",
            ),
        ),
    ),
    Part(
        "mixture",
        "Starting mixture",
        "The flask as the student gets it, when the reaction is over.",
        (
            Group("", ("start_phase", "start_C", "room_C", "salting", "cosolvent")),
            Rows(
                "Reactions that go on in the funnel",
                "slow reaction",
                ("slow_reaction",),
                ("substrate", "kind", "products", *(f"k_L_mol_s.{n}" for n in (
                    "value", "unit", "uncertainty", "source", "grade", "note"))),
                "Only where one spoils the product, such as hydroxide on an ester.",
            ),
        ),
    ),
    Part(
        MATERIALS,
        "Bench",
        "What stands on the bench. A plan may use no other solvent, solution or drying agent; "
        "some that would be wrong belong here too.",
        (
            Group("Materials", ("materials",)),
            Group(
                "Glassware and balance",
                (
                    "glassware.funnel_mL",
                    "glassware.balance_readability_g",
                    "glassware.balance_repeatability_g",
                ),
            ),
            Rows(
                "Solutions of your own",
                "solution",
                ("own_material",),
                ("name", "key", "density_g_mL", "components", "cautions"),
                "For what the list above does not have. The rest of the solution is water.",
            ),
        ),
    ),
    Part(
        "targets",
        "Targets",
        "What is to be isolated, and the goals a plan is judged by.",
        (
            Rows(
                "",
                "target",
                ("target",),
                (
                    "substance",
                    "product_state",
                    "recovery_goal",
                    "water_and_salt_limit",
                    "flask",
                ),
            ),
            Group("Number of extractions", ("fixed_portions",)),
        ),
    ),
    Part(
        PLAN,
        "Model plan",
        "Your own route, one of the right ones, and others known to be right. Students' plans are "
        "judged by what they do, not by these.",
        keys=(("model_plan",), ("alternative",)),
    ),
    Part(
        "marking",
        "Rubric and feedback",
        "Points for each check, and what a student hears before the deadline. A check with 0 "
        "points is shown and not counted.",
        (
            Group("Points", (*(f"rubric.points.{c}" for c in CHECKS), "rubric.drying_plan_share")),
            Group("Self-check", ("policy.detail", "policy.attempts")),
        ),
    ),
    Part(
        CHOICES,
        "Choices",
        "Where instructors differ. Leave a line as it is, and the setting that asks least of a "
        "plan holds; where you choose, your reason is shown to students.",
        (Settings(),),
    ),
    Part(
        "texts",
        "Teaching text",
        "What students read, in plain paragraphs; an empty line begins a new one.",
        (Group("", ("texts.background", "texts.task", "texts.questions", "sources")),),
    ),
    Part(
        "safety",
        "Safety",
        "Cautions are on every bench page and sheet of this exercise, beside those that the "
        "program derives from the materials.",
        (
            Group("", ("texts.cautions", "texts.emergency")),
            Rows(
                "Safety data sheets",
                "sheet",
                ("texts", "safety_sheet"),
                ("name", "url"),
                "Links stand on every bench page and sheet of this exercise.",
            ),
        ),
    ),
    Part(
        SUBSTANCES,
        "Own substances",
        "Only for what the tables do not hold. Type its name, CAS number or SMILES where it is "
        "needed, and what a library knows of it is taken over; look it through here.",
        (
            Rows(
                "",
                "substance",
                ("substance",),
                (*_IDENTITY, *_constants("pKa1", "log_kow", "melting_point", "boiling_point",
                                         "density", "water_solubility")),
                "An acid or base needs its pKa. Partition coefficients may be replaced under "
                "Values.",
                ("key", *_constants("pKa2", "pKa3")),
            ),
        ),
    ),
    Part(
        VALUES,
        "Values",
        "The constants behind the numbers, with source and grade. Where you know better, put "
        "your own value beside it and say where it comes from.",
        (OwnValues(),),
    ),
    Part(
        "diagnosis",
        "Diagnosis",
        "When a mass is not what was expected, the program names what may have happened, the "
        "likeliest first. Say here how likely each is in your class before a record is seen.",
        (
            Priors(
                "Weights count against each other: twice the weight, twice as likely. 0 rules an "
                "explanation out. An empty field takes the usual weight, which is common practice "
                "and has no source."
            ),
        ),
    ),
)
BY_SLUG: Mapping[str, Part] = {part.slug: part for part in PARTS}
