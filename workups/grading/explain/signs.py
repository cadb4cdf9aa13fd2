"""What a record shows besides the mass, and how much each sign speaks for a slip.

A factor is how much oftener the sign is seen with the slip than without (grade P: common
practice, no source). Signs that are not listed for a slip leave it as it was.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from workups.chemistry.readings import Readings, TargetReadings, Weighing
from workups.chemistry.yields import is_constant


@dataclass(frozen=True)
class Sign:
    """Something seen in a record: its key, and how it is told to a TA."""

    key: str
    text: str


WATER = ("no-agent", "too-little-agent", "aqueous-carried-over")
AGENT = ("agent-in-flask", "fines")
SOLVENT = ("solvent-left", "not-constant")
OBJECT = ("object-at-gross", "object-at-tare")


def _for(keys: tuple[str, ...], factor: float) -> dict[str, float]:
    return dict.fromkeys(keys, factor)


FACTORS: Mapping[str, Mapping[str, float]] = {
    "falling": {**_for(SOLVENT, 8.0), "weighed-warm": 0.3, "nothing-wrong": 0.3},
    "rising": {"weighed-warm": 12.0, "nothing-wrong": 0.5},
    "constant": {**_for(SOLVENT, 0.4)},
    "one reading": {"not-constant": 2.0},
    "other load": {**_for(OBJECT, 60.0)},
    "same load": {**_for(OBJECT, 0.7)},
    "other flask": {"another-flask": 100.0},
    "clumped": {"too-little-agent": 4.0, "no-agent": 0.1},
    "puddle": {"aqueous-carried-over": 6.0, "too-little-agent": 3.0},
    "cloudy liquid": {**_for(WATER, 4.0), "nothing-wrong": 0.5},
    "no agent on record": {"no-agent": 6.0},
    "grit": {**_for(AGENT, 12.0), "nothing-wrong": 0.05},
    "cloudy product": {**_for(WATER, 8.0), "nothing-wrong": 0.15},
    "smells of solvent": {**_for(SOLVENT, 8.0), "nothing-wrong": 0.3},
    "smells of acid": {"acid-left": 12.0, "nothing-wrong": 0.2},
    "second spot": {"incomplete-reaction": 3.0},
    "foreign band": {"acid-left": 3.0, **_for(WATER, 2.0), "nothing-wrong": 0.6},
    "melts low": {
        **_for(SOLVENT, 2.0),
        **_for(WATER, 2.0),
        "incomplete-reaction": 2.0,
        "nothing-wrong": 0.5,
    },
    "looks clean": {**_for(WATER, 0.4), **_for(AGENT, 0.2), "acid-left": 0.5},
    "smells clean": {**_for(SOLVENT, 0.3), "acid-left": 0.2},
    "one spot": {"incomplete-reaction": 0.4},
}

WORDS: Mapping[str, tuple[tuple[str, str, str], ...]] = {
    "appearance": (
        ("grit", "grit", "white grit in the product"),
        ("white solid", "grit", "a white solid in the product"),
        ("powder", "grit", "powder in the product"),
        ("cloudy", "cloudy product", "the product is cloudy"),
        ("drops", "cloudy product", "drops in the product"),
        ("wet", "cloudy product", "the product looks wet"),
    ),
    "odour": (
        ("solvent", "smells of solvent", "it smells of solvent"),
        ("ether", "smells of solvent", "it smells of ether"),
        ("acid", "smells of acid", "it smells of acid"),
        ("vinegar", "smells of acid", "it smells of vinegar"),
    ),
    "TLC": (
        ("second", "second spot", "a second spot on TLC"),
        ("two spots", "second spot", "two spots on TLC"),
    ),
    "IR": (
        ("O-H", "foreign band", "an O-H band in the IR"),
        ("broad", "foreign band", "a broad band in the IR"),
    ),
}
CLEAN: Mapping[str, tuple[str, str]] = {
    "appearance": ("looks clean", "it looks as it should"),
    "odour": ("smells clean", "it smells as it should"),
    "TLC": ("one spot", "one spot on TLC"),
}


def signs_of(record: TargetReadings, readings: Readings, dries: bool) -> tuple[Sign, ...]:
    """Every sign in a record. ``dries``: the plan as done has a drying step."""
    return (*_weighing_signs(record), *_drying_signs(readings, dries), *_witness_signs(record))


def _weighing_signs(record: TargetReadings) -> Iterator[Sign]:
    gross = [w for w in record.weighings if w.kind == "gross"]
    tares = [w for w in record.weighings if w.kind == "tare"]
    constant = is_constant(record.weighings)
    if constant is None and gross:
        yield Sign("one reading", "there is one gross reading only")
    elif constant:
        yield Sign("constant", "the last gross readings agree")
    elif constant is False:
        fell = gross[-1].mass_g < gross[-2].mass_g
        yield Sign(
            "falling" if fell else "rising",
            f"the gross readings still {'fall' if fell else 'rise'}",
        )
    if tares and gross:
        yield from _pan_signs(tares[-1], gross[-1])


def _pan_signs(tare: Weighing, gross: Weighing) -> Iterator[Sign]:
    if set(tare.on_pan) != set(gross.on_pan):
        yield Sign("other load", "different things were ticked as on the pan")
    else:
        yield Sign("same load", "the same things were ticked as on the pan")
    if tare.flask_number and gross.flask_number and tare.flask_number != gross.flask_number:
        yield Sign(
            "other flask", f"flask {tare.flask_number} at tare, {gross.flask_number} at gross"
        )


def _drying_signs(readings: Readings, dries: bool) -> Iterator[Sign]:
    if dries and readings.steps and not readings.drying:
        yield Sign("no agent on record", "no drying agent is on record")
    for drying in readings.drying:
        if drying.agent_look in ("clumped", "puddle"):
            yield Sign(drying.agent_look, f"the drying agent was recorded as {drying.agent_look}")
        if drying.liquid_look == "cloudy":
            yield Sign("cloudy liquid", "the dried liquid was recorded as cloudy")


def _witness_signs(record: TargetReadings) -> Iterator[Sign]:
    for witness in record.witnesses:
        if witness.kind == "mp":
            if witness.agrees is False:
                yield Sign("melts low", "the melting point is low")
            continue
        text = witness.text.casefold()
        match = next(
            (
                Sign(key, said)
                for word, key, said in WORDS.get(witness.kind, ())
                if word.casefold() in text and witness.agrees is not True
            ),
            None,
        )
        if match is not None:
            yield match
        elif witness.agrees and witness.kind in CLEAN:
            yield Sign(*CLEAN[witness.kind])


def weight_of(signs: tuple[Sign, ...], slip: str) -> float:
    """Product of the factors of all signs for a slip."""
    weight = 1.0
    for sign in signs:
        weight *= FACTORS.get(sign.key, {}).get(slip, 1.0)
    return weight
