"""What two exercises differ in, as sentences for the person who has to decide about it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from workups.chemistry.plan import Plan
from workups.chemistry.quantity import Quantity
from workups.chemistry.setup import Glassware, Reagent, Setup
from workups.chemistry.substances import PROPERTIES, Substance
from workups.grading.exercise import CHECK_TITLES, Exercise, Texts
from workups.grading.material_facts import material_name, substance_word
from workups.grading.numbers import amount, joined, percent, plain
from workups.grading.sentences import step_sentence
from workups.grading.settings import SETTINGS

_GLASSWARE = {
    "funnel_mL": ("The separatory funnel", "mL"),
    "balance_readability_g": ("The balance's readability", "g"),
    "balance_repeatability_g": ("The balance's repeatability", "g"),
}


@dataclass(frozen=True)
class Difference:
    """One difference: what it is about, and a sentence."""

    topic: str
    sentence: str


def differences(before: Exercise, after: Exercise) -> tuple[Difference, ...]:
    """Everything in which two exercises differ, by topic; none for equal ones."""
    found = tuple(
        Difference(topic, sentence)
        for topic, sentences in (
            ("Title and texts", _texts(before, after)),
            ("Reaction", _reaction(before.setup, after.setup)),
            ("Materials", _materials(before, after)),
            ("Targets", _targets(before.setup, after.setup)),
            ("Glassware", _glassware(before.setup, after.setup)),
            ("Conditions and values", _conditions(before.setup, after.setup)),
            ("Model plan", _plan(before, after, before.model_plan, after.model_plan)),
            ("Other routes", _alternatives(before, after)),
            ("Marks", _marks(before, after)),
        )
        for sentence in sentences
    )
    if found or before == after:
        return found
    return (Difference("File", "Something changed that has no words of its own; see the file."),)


def _texts(before: Exercise, after: Exercise) -> Iterator[str]:
    if before.title != after.title:
        yield f"The title was “{before.title}” and is “{after.title}”."
    if before.key != after.key:
        yield f"The key was {before.key} and is {after.key}."
    changed = [
        f.name.replace("_", " ")
        for f in fields(Texts)
        if getattr(before.texts, f.name) != getattr(after.texts, f.name)
    ]
    if changed:
        yield f"Changed texts: {joined(changed)}."
    if before.sources != after.sources:
        yield "The sources were rewritten."


def _reaction(before: Setup, after: Setup) -> Iterator[str]:
    old = {r.substance: r for r in before.reaction.reagents}
    new = {r.substance: r for r in after.reaction.reagents}
    word = _words(before, after)
    yield from _gone_and_come(old, new, word)
    for key in [k for k in old if k in new and old[k] != new[k]]:
        name = _capital(word(key))
        if _planned(old[key]) != _planned(new[key]):
            yield f"{name}: {_planned(new[key])} instead of {_planned(old[key])}."
        else:
            yield f"{name}: role, purity or coefficient changed."
    if before.reaction.products != after.reaction.products:
        names = [word(p.substance) for p in after.reaction.products]
        yield f"Products are now {joined(names) or 'none'}."
    if before.reaction.conversion != after.reaction.conversion:
        c = after.reaction.conversion
        ends = f"{percent(c.low)} to {percent(c.high)}"
        yield f"Conversion is taken as {percent(c.nominal)} ({ends})."


def _words(before: Setup, after: Setup) -> Callable[[str], str]:
    """What substances are called in the newer exercise, else in the older one."""

    def word(key: str) -> str:
        newer = key in after.tables.substances
        return substance_word(key, after.tables if newer else before.tables)

    return word


def _planned(reagent: Reagent) -> str:
    if reagent.mass_g is not None:
        return amount(reagent.mass_g, "g")
    if reagent.volume_mL is not None:
        return amount(reagent.volume_mL, "mL")
    return amount(reagent.amount_mmol or 0.0, "mmol")


def _gone_and_come(old: Mapping[str, Any], new: Mapping[str, Any], name: Any) -> Iterator[str]:
    gone, come = [k for k in old if k not in new], [k for k in new if k not in old]
    if gone:
        yield f"Not used any more: {joined([name(k) for k in gone])}."
    if come:
        yield f"New: {joined([name(k) for k in come])}."


def _materials(before: Exercise, after: Exercise) -> Iterator[str]:
    old = {k: material_name(k, before) for k in before.setup.materials}
    new = {k: material_name(k, after) for k in after.setup.materials}
    yield from _gone_and_come(old, new, lambda key: old.get(key) or new[key])
    if before.setup.own_materials != after.setup.own_materials:
        yield "The exercise's own solutions changed."


def _targets(before: Setup, after: Setup) -> Iterator[str]:
    old, new = ({t.substance: t for t in s.targets} for s in (before, after))
    word = _words(before, after)
    yield from _gone_and_come(old, new, word)
    for key in [k for k in old if k in new]:
        name, was, now = word(key), old[key], new[key]
        if was.recovery_goal != now.recovery_goal:
            yield (
                f"{percent(now.recovery_goal)} of the {name} are to be extracted instead of "
                f"{percent(was.recovery_goal)}."
            )
        if was.water_and_salt_limit != now.water_and_salt_limit:
            yield f"Water and salt in the {name}: up to {percent(now.water_and_salt_limit)}."
        if (was.flask, was.product_state) != (now.flask, now.product_state):
            yield f"Flask or state of the {name} changed."


def _glassware(before: Setup, after: Setup) -> Iterator[str]:
    for name in (f.name for f in fields(Glassware)):
        words, unit = _GLASSWARE.get(name, (_capital(name.replace("_", " ")), ""))
        old, new = getattr(before.glassware, name), getattr(after.glassware, name)
        if old != new:
            yield f"{words}: {_or_unknown(new, unit)} instead of {_or_unknown(old, unit)}."


def _or_unknown(value: float | None, unit: str) -> str:
    return "unknown" if value is None else amount(value, unit)


def _conditions(before: Setup, after: Setup) -> Iterator[str]:
    for name, words in (("start_C", "The mixture begins at"), ("room_C", "The room has")):
        old, new = getattr(before, name), getattr(after, name)
        if old != new:
            yield f"{words} {amount(new, '°C')} instead of {amount(old, '°C')}."
    yield from _values(before.values, after.values)
    yield from _own_substances(before, after)
    if before.slow_reactions != after.slow_reactions:
        yield "The slow reactions changed."
    names = ("start_phase", "salting", "cosolvent")
    if any(getattr(before, n) != getattr(after, n) for n in names):
        yield "What the simulation takes into account changed."


def _values(old: Mapping[str, Quantity], new: Mapping[str, Quantity]) -> Iterator[str]:
    for name in dict.fromkeys((*old, *new)):
        if name not in new:
            yield f"Own value {name} is not given any more."
        elif name not in old:
            yield f"Own value {name}: {_quantity(new[name])}."
        elif old[name] != new[name]:
            yield f"Own value {name}: {_quantity(new[name])} instead of {_quantity(old[name])}."


def _own_substances(before: Setup, after: Setup) -> Iterator[str]:
    old, new = ({s.key: s for s in e.own_substances} for e in (before, after))
    yield from (f"Own substance {s.name} is gone." for k, s in old.items() if k not in new)
    yield from (f"New own substance: {s.name}." for k, s in new.items() if k not in old)
    for key in [k for k in old if k in new and old[k] != new[k]]:
        was, now = _constants(old[key]), _constants(new[key])
        yield from (f"{line}." for line in _changed(was, now, new[key].name))
        if replace(old[key], values={}, partition={}) != replace(
            new[key], values={}, partition={}
        ):
            yield f"Own substance {new[key].name}: name, structure, classes or hazards changed."


def _constants(substance: Substance) -> dict[str, Quantity]:
    values = {PROPERTIES[k].title: q for k, q in substance.values.items()}
    return values | {f"log10 K in {k}": q for k, q in substance.partition.items()}


def _changed(
    was: Mapping[str, Quantity], now: Mapping[str, Quantity], of: str
) -> Iterator[str]:
    for name in dict.fromkeys((*was, *now)):
        if name not in now:
            yield f"{name} of {of} is not given any more"
        elif name not in was:
            yield f"{name} of {of}: {_quantity(now[name])}"
        elif was[name].value != now[name].value:
            yield f"{name} of {of}: {_quantity(now[name])} instead of {_quantity(was[name])}"
        elif was[name] != now[name]:
            yield f"{name} of {of}: uncertainty, source, grade or note changed"


def _quantity(quantity: Quantity) -> str:
    return amount(quantity.value, "" if quantity.unit == "1" else quantity.unit)


def _plan(before: Exercise, after: Exercise, old: Plan, new: Plan) -> Iterator[str]:
    old_at = {s.id: n for n, s in enumerate(old.steps, 1)}
    new_at = {s.id: n for n, s in enumerate(new.steps, 1)}
    for step in old.steps:
        if step.id not in new_at:
            yield f"Step {old_at[step.id]} is gone: {step_sentence(step, before)}"
    for step in new.steps:
        if step.id not in old_at:
            yield f"New step {new_at[step.id]}: {step_sentence(step, after)}"
            continue
        was = old.steps[old_at[step.id] - 1]
        if was != step:
            yield (
                f"Step {new_at[step.id]} was: {step_sentence(was, before)} Now: "
                f"{step_sentence(step, after)}"
            )
    common = [s.id for s in old.steps if s.id in new_at]
    if common != [s.id for s in new.steps if s.id in old_at]:
        yield "The order of the steps changed."


def _alternatives(before: Exercise, after: Exercise) -> Iterator[str]:
    if before.alternatives == after.alternatives:
        return
    old, new = len(before.alternatives), len(after.alternatives)
    yield f"{new} instead of {old}." if old != new else "Steps of another route changed."


def _marks(before: Exercise, after: Exercise) -> Iterator[str]:
    for check, title in CHECK_TITLES.items():
        old, new = (e.rubric.points.get(check, 0.0) for e in (before, after))
        if old != new:
            yield f"{title}: {_points(new)} instead of {_points(old)}."
    if before.rubric.drying_plan_share != after.rubric.drying_plan_share:
        yield f"The plan's share in drying: {percent(after.rubric.drying_plan_share)}."
    for key, setting in SETTINGS.items():
        if before.choice(key) != after.choice(key):
            yield (
                f"{setting.title}: {after.choice(key)} {setting.unit}".rstrip()
                + f" instead of {before.choice(key)}."
            )
        elif before.reason(key) != after.reason(key):
            yield f"{setting.title}: another reason is given."
    if before.policy != after.policy:
        yield f"Self-check says: {after.policy.detail}, {_attempts(after.policy.attempts)}."
    if before.priors != after.priors:
        yield "The weights of the diagnosis changed."
    if before.fixed_portions != after.fixed_portions:
        yield f"Portions asked for: {_portions(after.fixed_portions)}."


def _points(points: float) -> str:
    return f"{plain(points)} points"


def _attempts(attempts: int) -> str:
    return f"{attempts} times" if attempts else "as often as wanted"


def _portions(count: int | None) -> str:
    return "as many as the goal needs" if count is None else str(count)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def by_topic(found: Sequence[Difference]) -> list[tuple[str, list[str]]]:
    """Differences grouped under their topics, in their order."""
    topics: dict[str, list[str]] = {}
    for difference in found:
        topics.setdefault(difference.topic, []).append(difference.sentence)
    return list(topics.items())
