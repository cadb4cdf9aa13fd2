"""What two exercises differ in, as sentences for the person who has to decide about it.

A field that changed is told by its own declaration: its label, unit and words. Only steps, settings
and planned amounts have sentences of their own.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from workups.chemistry.fields import NOTE_LENGTH
from workups.chemistry.plan import Plan
from workups.chemistry.quantity import Quantity
from workups.chemistry.setup import Reagent, Spread
from workups.exercise.exercise import Choice, Exercise
from workups.exercise.settings import SETTINGS
from workups.words.material_facts import material_name, substance_word
from workups.words.numbers import amount, joined, plain
from workups.words.sentences import step_sentence

from .names import names_for
from .record_checks import AMOUNTS
from .shapes import Entry, ListOf, Record, TableOf, Text, unfolded_values

REST = "Conditions and values"
_TOPICS: Mapping[str, tuple[str, ...]] = {
    "Title and texts": ("title", "key", "texts", "sources"),
    "Reaction": ("reaction",),
    "Materials": ("materials", "own_material"),
    "Targets": ("target",),
    "Glassware": ("glassware",),
    REST: (),
    "Model plan": ("model_plan",),
    "Other routes": ("alternative",),
    "Marks": ("rubric", "choice", "policy", "priors", "fixed_portions"),
}
_TOPIC_OF = {key: topic for topic, keys in _TOPICS.items() for key in keys}


@dataclass(frozen=True)
class Difference:
    """One difference: what it is about, and a sentence."""

    topic: str
    sentence: str


def differences(before: Exercise, after: Exercise) -> tuple[Difference, ...]:
    """Everything in which two exercises differ, by topic; none for equal ones."""
    teller, topics = _Teller(before, after), list(_TOPICS)
    found = [
        Difference(_TOPIC_OF.get(entry.key, REST), sentence)
        for (entry, old), (_, new) in _pairs(before, after)
        for sentence in teller.told(entry, old, new)
    ]
    return tuple(sorted(found, key=lambda d: topics.index(d.topic)))


def _pairs(old: Any, new: Any) -> Iterator[tuple[tuple[Entry, Any], tuple[Entry, Any]]]:
    """Fields of two values of one dataclass that differ, each with its description."""
    pairs = zip(unfolded_values(old), unfolded_values(new), strict=True)
    return ((was, now) for was, now in pairs if was[1] != now[1])


@dataclass(frozen=True)
class _Teller:
    """Tells what changed in a field of one of two exercises."""

    before: Exercise
    after: Exercise

    def told(self, entry: Entry, old: Any, new: Any, where: str = "") -> Iterator[str]:
        """Sentences on a field with two different values; ``where`` is what it is a field of."""
        label = f"{where}, {_small(entry.spec.label)}" if where else entry.spec.label
        match entry.shape:
            case Record(kind=kind) if kind is Plan:
                yield from self._plan(old, new)
            case Record(kind=kind) if kind not in (Spread, Quantity) and old and new:
                yield from self._fields(old, new, label if where else "")
            case ListOf(item=Record(kind=kind)) if kind is Plan:
                yield from self._plans(old, new)
            case ListOf(item=Record(kind=kind)) if kind is Choice:
                yield from self._settings()
            case ListOf(item=Record()):
                yield from self._rows(label, old, new)
            case ListOf():
                yield from self._words(label, entry.shape.item, old, new)
            case TableOf():
                titles = entry.spec.key_choices or {}
                one = replace(entry, shape=entry.shape.item)
                for key in dict.fromkeys((*old, *new)):
                    if old.get(key) != new.get(key):
                        called = f"{label}, {self.name(key)}"
                        if title := titles.get(key):
                            called = f"{where}, {_small(title)}" if where else title
                        yield self._sentence(one, called, old.get(key), new.get(key))
            case _:
                yield self._sentence(entry, label, old, new)

    def _sentence(self, entry: Entry, label: str, old: Any, new: Any) -> str:
        if isinstance(entry.shape, Text) and entry.shape.max_length >= NOTE_LENGTH:
            return f"{label}: rewritten."
        was, now = self.value(entry, old), self.value(entry, new)
        if was == now:
            return f"{label}: uncertainty, source, grade or note changed."
        return f"{label}: {now}." if old is None else f"{label}: {now} instead of {was}."

    def _fields(self, old: Any, new: Any, where: str) -> Iterator[str]:
        """What changed between two values of one dataclass."""
        aside: tuple[str, ...] = ()
        if isinstance(old, Reagent) and _planned(old) != _planned(new):
            yield f"{where}: {_planned(new)} instead of {_planned(old)}."
            aside = AMOUNTS
        for (entry, was), (_, now) in _pairs(old, new):
            if entry.key not in aside:
                yield from self.told(entry, was, now, where)

    def _rows(self, label: str, old: Sequence[Any], new: Sequence[Any]) -> Iterator[str]:
        """Rows that came, went or changed; which is which says the first field of each."""
        was, now = ({_identity(row): row for row in rows} for rows in (old, new))
        yield from self._come_and_gone(
            label, [self.row_name(was[k]) for k in was if k not in now],
            [self.row_name(now[k]) for k in now if k not in was])
        both = [key for key in was if key in now]
        for key in both:
            yield from self._fields(was[key], now[key], _capital(self.row_name(now[key])))
        if was.keys() == now.keys() and all(was[key] == now[key] for key in both):
            yield f"{label}: in another order, or one of them more or less often."

    def _words(self, label: str, item: Any, old: Sequence[str], new: Sequence[str]
               ) -> Iterator[str]:
        if not (item.role or item.choices or item.pattern):
            yield f"{label}: rewritten."
            return
        gone, come = ([self.name(w, item.role) for w in these if w not in others]
                      for these, others in ((old, new), (new, old)))
        yield from self._come_and_gone(label, sorted(gone), sorted(come))
        if not come and not gone:
            yield f"{label}: in another order."

    def _come_and_gone(self, label: str, gone: list[str], come: list[str]) -> Iterator[str]:
        if gone:
            yield f"{label}, not any more: {joined(gone)}."
        if come:
            yield f"{label}, new: {joined(come)}."

    def name(self, key: str, role: str = "") -> str:
        """What a key is called in the newer exercise, else in the older one."""
        for exercise in (self.after, self.before):
            if role == "material" and key in names_for(exercise):
                return material_name(key, exercise)
            if key in names_for(exercise):
                return substance_word(key, exercise.setup.tables)
        return key

    def row_name(self, row: Any) -> str:
        """What a row of a list is called."""
        return getattr(row, "name", "") or self.name(_identity(row))

    def value(self, entry: Entry, value: Any) -> str:  # noqa: PLR0911 (one return a kind)
        """A value in words."""
        words = entry.spec.words or {}
        if value is None:
            return "not given"
        match value:
            case bool():
                return words.get("yes", "yes") if value else words.get("no", "no")
            case Quantity():
                return amount(value.value, "" if value.unit == "1" else value.unit)
            case Spread():
                return f"{plain(value.nominal)} ({plain(value.low)} to {plain(value.high)})"
            case int() | float():
                return amount(value, entry.spec.unit)
        if not isinstance(value, str):
            return "given"
        return words.get(value) or (f"“{value}”" if value else "nothing")

    def _plan(self, old: Plan, new: Plan) -> Iterator[str]:
        old_at = {s.id: n for n, s in enumerate(old.steps, 1)}
        new_at = {s.id: n for n, s in enumerate(new.steps, 1)}
        for step in old.steps:
            if step.id not in new_at:
                yield f"Step {old_at[step.id]} is gone: {step_sentence(step, self.before)}"
        for step in new.steps:
            now = step_sentence(step, self.after)
            if step.id not in old_at:
                yield f"New step {new_at[step.id]}: {now}"
                continue
            was = old.steps[old_at[step.id] - 1]
            if was != step:
                yield (f"Step {new_at[step.id]} was: {step_sentence(was, self.before)} Now: {now}")
        common = [s.id for s in old.steps if s.id in new_at]
        if common != [s.id for s in new.steps if s.id in old_at]:
            yield "The order of the steps changed."

    def _plans(self, old: Sequence[Plan], new: Sequence[Plan]) -> Iterator[str]:
        if len(old) != len(new):
            yield f"{len(new)} instead of {len(old)}."
        else:
            yield "Steps of another route changed."

    def _settings(self) -> Iterator[str]:
        for key, setting in SETTINGS.items():
            was, now = self.before.choice(key), self.after.choice(key)
            if was != now:
                told = f"{setting.title}: {now} {setting.unit}".rstrip()
                yield f"{told} instead of {was}."
            elif self.before.reason(key) != self.after.reason(key):
                yield f"{setting.title}: another reason is given."


def _identity(row: Any) -> str:
    """What tells a row of a list from the others: its first field."""
    return str(next(value for _, value in unfolded_values(row)))


def _planned(reagent: Reagent) -> str:
    if reagent.mass_g is not None:
        return amount(reagent.mass_g, "g")
    if reagent.volume_mL is not None:
        return amount(reagent.volume_mL, "mL")
    return amount(reagent.amount_mmol or 0.0, "mmol")


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _small(label: str) -> str:
    """A label within a sentence; what is written with capitals stays so."""
    return label[:1].lower() + label[1:] if label[1:2].islower() or label[1:2] == " " else label


def by_topic(found: Sequence[Difference]) -> list[tuple[str, list[str]]]:
    """Differences grouped under their topics, in their order."""
    topics: dict[str, list[str]] = {}
    for difference in found:
        topics.setdefault(difference.topic, []).append(difference.sentence)
    return list(topics.items())
