"""The constants an instructor may replace, with what the tables say of each."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from workups.chemistry.components import Inventory
from workups.chemistry.draws import Draws
from workups.chemistry.inventory import build_inventory, partition_quantity
from workups.chemistry.practice import PRACTICE
from workups.chemistry.quantity import Quantity
from workups.chemistry.substances import Tables
from workups.chemistry.tables import tables
from workups.documents.lenient import read_leniently
from workups.documents.pointers import MISSING, put, take_away, value_at
from workups.exercise.exercise import Exercise
from workups.explanation.values_used import GRADE_WORDS
from workups.words.material_facts import substance_name
from workups.words.numbers import with_uncertainty

_DISSOCIATIONS = {"pKa1": "pKa", "pKa2": "second pKa", "pKa3": "third pKa"}


@dataclass(frozen=True)
class OwnableValue:
    """One constant that may be replaced: its name in the document, of what, and which."""

    name: str
    of: str
    what: str
    quantity: Quantity
    is_own: bool = False

    @property
    def shown(self) -> str:
        q = self.quantity
        return with_uncertainty(q.value, q.uncertainty, "" if q.unit == "1" else q.unit)

    @property
    def grade_words(self) -> str:
        return GRADE_WORDS[self.quantity.grade]

    @property
    def source(self) -> str:
        return tables().sources.get(self.quantity.source, self.quantity.source)

    @property
    def is_checked(self) -> bool:
        return self.quantity.grade == "A"


def ownable_values(text: str) -> list[OwnableValue]:
    """Of everything that can occur in a draft's exercise, as far as it can be read."""
    exercise = read_leniently(text).exercise
    if exercise is None:
        return []
    own = exercise.setup.values
    found = [*_of_substances(exercise), *_of_practice()]
    return [replace(v, is_own=v.name in own) for v in found]


def _of_substances(exercise: Exercise) -> Iterator[OwnableValue]:
    bare = replace(exercise.setup, values={})
    inventory: Inventory = build_inventory(bare, bare.tables, Draws(1, 1))
    for key in inventory.keys:
        substance = bare.tables.substances.get(key)
        if substance is None or key == "water":
            continue
        for name, words in _DISSOCIATIONS.items():
            if name in substance.values:
                yield OwnableValue(f"{name}:{key}", substance.name, words, substance.values[name])
        for solvent in inventory.solvents:
            k = partition_quantity(substance, solvent, bare)
            if k is not None and solvent != key:
                words = f"log10 K, {substance_name(solvent, bare.tables)} over water"
                yield OwnableValue(f"log10_K:{key}:{solvent}", substance.name, words, k)


def _of_practice() -> Iterator[OwnableValue]:
    for name, quantity in PRACTICE.items():
        yield OwnableValue(name, "bench practice", quantity.note, quantity)


def value_words(name: str, known: Tables) -> str:
    """What an own value is of, in words; the name itself where nobody knows it."""
    if name in PRACTICE:
        return PRACTICE[name].note.capitalize()
    head, *parts = name.split(":")
    if head == "log10_K" and len(parts) == 2:
        of, over = (substance_name(key, known) for key in parts)
        return f"{of.capitalize()}: log10 K, {over} over water"
    if head in _DISSOCIATIONS and len(parts) == 1:
        return f"{substance_name(parts[0], known).capitalize()}: {_DISSOCIATIONS[head]}"
    return name


def tables_say(name: str, known: Tables) -> str:
    """What stands in the tables under the name of an own value, in a sentence."""
    head, *parts = name.split(":")
    substance = known.substances.get(parts[0]) if parts else None
    said: Quantity | None = PRACTICE.get(name)
    if substance is not None and head == "log10_K" and len(parts) == 2:
        said = substance.partition.get(parts[1])
    elif substance is not None and len(parts) == 1:
        said = substance.values.get(head)
    if said is None:
        return ""
    told = OwnableValue(name, "", "", said)
    return f"The tables say {told.shown} ({told.grade_words}; {told.source})."


def value_names(data: Any) -> list[str]:
    """The names of the own values in a document, those that hold a table."""
    values = value_at(data, ("values",))
    if not isinstance(values, dict):
        return []
    return [name for name, value in values.items() if isinstance(value, dict)]


def take_own(data: dict[str, Any], text: str, name: str) -> bool:
    """Begin an own value from what the tables say; whether there is one of that name."""
    found = next((v for v in ownable_values(text) if v.name == name), None)
    if found is None or value_at(data, ("values", name)) is not MISSING:
        return False
    q = found.quantity
    fresh: Mapping[str, Any] = {
        "value": q.value, "unit": q.unit, "uncertainty": q.uncertainty, "grade": "B",
    }
    put(data, ("values", name), dict(fresh))
    return True


def drop_own(data: dict[str, Any], name: str) -> None:
    """Go back to the tables' value."""
    take_away(data, ("values", name))
