"""The parts of the author form, in the order a person thinks of them.

A block names what comes first in it; of the tables it asks for, what nobody names follows by itself
(``*`` in a group, always in rows), so that a new field of an exercise has its place.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from workups.documents.shapes import AnyStep, Entry, ListOf, Number, Record, TableOf, unfolded
from workups.exercise.exercise import Exercise
from workups.web.authoring.form.asked import entry_at

Words = tuple[str, ...]
PLAN, MATERIALS, CHOICES, VALUES = "plan", "bench", "choices", "values"
SUBSTANCES = "substances"


@dataclass(frozen=True)
class Group:
    """Fields that are there once, by their dotted paths; ``table.*``: all others of a table."""

    title: str
    paths: tuple[str, ...]
    help: str = ""

    @property
    def keys(self) -> list[Words]:
        return [tuple(path.split(".")) for path in self.paths]


@dataclass(frozen=True)
class Rows:
    """A list of tables with the same fields; `one` is what one of them is called.

    `first` are the fields that come first, `apart` more of the seldom ones, `elsewhere` what is
    not asked for here.
    """

    title: str
    one: str
    path: Words
    help: str = ""
    first: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    elsewhere: tuple[str, ...] = ()

    @property
    def fields(self) -> tuple[str, ...]:
        rest = (name for name, entry in self._others() if not entry.spec.seldom)
        return tuple(dict.fromkeys((*self.first, *rest)))

    @property
    def seldom(self) -> tuple[str, ...]:
        """What is asked for apart, because it is seldom needed."""
        return (*(name for name, entry in self._others() if entry.spec.seldom), *self.apart)

    def _others(self) -> Iterator[tuple[str, Entry]]:
        shape = entry_at(self.path).shape
        assert isinstance(shape, ListOf)
        assert isinstance(shape.item, Record)
        named = (*self.first, *self.apart, *self.elsewhere)
        return (
            (name, entry) for name, entry in _leaves(shape.item.kind)
            if not (_is_under(name, named) or _is_list_of_tables(entry)))


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


def _leaves(kind: Any, path: str = "") -> Iterator[tuple[str, Entry]]:
    """What is asked for of a dataclass by dotted path, a list of tables as a whole."""
    for key, entry in unfolded(kind).items():
        here = f"{path}{key}"
        match entry.shape:
            case Record(kind=inner):
                yield from _leaves(inner, f"{here}.")
            case TableOf(item=Number()) if entry.spec.key_choices:
                yield from ((f"{here}.{name}", entry) for name in entry.spec.key_choices)
            case TableOf(item=Record()) | ListOf(item=AnyStep()):
                pass
            case _:
                yield here, entry


def _is_list_of_tables(entry: Entry) -> bool:
    return isinstance(entry.shape, ListOf) and isinstance(entry.shape.item, Record)


def _is_under(name: str, places: Iterable[str]) -> bool:
    return any(name == place or name.startswith(f"{place}.") for place in places)


def _completed(listed: Sequence[Part]) -> Iterator[Part]:
    """The parts with a field for everything in an exercise: what nobody names is where a ``*`` is,
    the one of the innermost table, a list of tables below it."""
    named = {".".join(place) for part in listed for place in part.places}
    stars = sorted((name for name in named if name.endswith("*")), key=len, reverse=True)
    fields: dict[str, list[str]] = {star: [] for star in stars}
    lists: dict[str, list[Block]] = {star: [] for star in stars}
    for name, entry in _leaves(Exercise):
        if _is_under(name, named):
            continue
        star = next(star for star in stars if name.startswith(star[:-1]))
        if _is_list_of_tables(entry):
            lists[star].append(Rows(entry.spec.label, "row", tuple(name.split("."))))
        else:
            fields[star].append(name)
    for part in listed:
        blocks: list[Block] = []
        for block in part.blocks:
            if isinstance(block, Group):
                paths = [name for path in block.paths for name in fields.get(path, [path])]
                below = [rows for path in block.paths for rows in lists.get(path, [])]
                blocks += [replace(block, paths=tuple(paths)), *below]
            else:
                blocks.append(block)
        yield replace(part, blocks=tuple(blocks))


def _constants(*names: str) -> tuple[str, ...]:
    fields = ("value", "uncertainty", "source", "grade", "note")
    return tuple(f"values.{name}.{field}" for name in names for field in fields)


_LISTED: tuple[Part, ...] = (
    Part(
        "exercise",
        "The exercise",
        "What students see in their list.",
        (Group("", ("title", "texts.summary", "key", "*")),),
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
                "One planned amount each: a mass, a volume or an amount. Coefficient 0 for a "
                "catalyst, a solvent, and for everything in a separation.",
            ),
            Rows("Products", "product", ("reaction", "product")),
            Group(
                "Conversion",
                ("reaction.conversion.*",),
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
                "Only where one spoils the product, such as hydroxide on an ester.",
                ("substrate", "kind", "products"),
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
            Group("Glassware and balance", ("glassware.*",)),
            Rows(
                "Solutions of your own",
                "solution",
                ("own_material",),
                "For what the list above does not have. The rest of the solution is water.",
                ("name",),
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
                first=("substance", "product_state", "recovery_goal", "water_and_salt_limit"),
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
        (Group("Points", ("rubric.*",)), Group("Self-check", ("policy.*",))),
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
        (Group("", ("texts.background", "texts.task", "texts.questions", "sources", "texts.*")),),
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
                "An acid or base needs its pKa. Partition coefficients may be replaced under "
                "Values.",
                ("name", "smiles", "cas", "molar_mass_g_mol", "classes", "charge_top", "hazards",
                 "source", "grade",
                 *_constants("pKa1", "log_kow", "melting_point", "boiling_point", "density",
                             "water_solubility")),
                _constants("pKa2", "pKa3"),
                ("antoine",),
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
PARTS = tuple(_completed(_LISTED))
BY_SLUG: Mapping[str, Part] = {part.slug: part for part in PARTS}
