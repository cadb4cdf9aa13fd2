"""Names in an exercise's texts, labels and notes after something was swapped.

A name is replaced where a sentence tells what to do. A sentence of the background or a caution
that names what is gone says something about it that need not hold for what came: it is left out.
So is one that tells which layer is where, once that has changed.
"""

import dataclasses
import re
from collections.abc import Mapping
from dataclasses import replace

from workups.chemistry.plan import FieldKind, Plan, Step
from workups.exercise.exercise import Exercise, Texts
from workups.words.material_facts import material_name, material_word

_SENTENCE_END = re.compile(r"(?<=[.!?])\s+")
# A sentence that begins like this says something about the one before it.
_LEANS = re.compile(r"(It|Its|That|This|They|Their|These|Those|Both|So|But)\b")
_LAYER_WORDS = re.compile(
    r"\b(bottom|top|upper|lower|heavier|lighter|denser|sinks|floats|lies (under|over))\b",
    re.IGNORECASE,
)


def names_of(key: str, exercise: Exercise) -> tuple[str, ...]:
    """How a text may call a material or substance, the longest name first."""
    whole, word = material_name(key, exercise), material_word(key, exercise)
    plain = whole.partition(" (")[0]
    return tuple(sorted({whole, word, plain, *_SHORT.get(key, ())}, key=len, reverse=True))


_SHORT: Mapping[str, tuple[str, ...]] = {
    "dichloromethane": ("DCM",),
    "ethyl_acetate": ("EtOAc",),
    "diethyl_ether": ("ether",),
}


def renamed_texts(
    exercise: Exercise, swaps: Mapping[str, str], *, layers_changed: bool
) -> tuple[Texts, tuple[str, ...]]:
    """The texts with names replaced and doubtful sentences left out, and those sentences."""
    pattern = _pattern(exercise, swaps)
    left_out: list[str] = []

    def kept(paragraph: str) -> str:
        stays: list[str] = []
        before_is_gone = False
        for sentence in _SENTENCE_END.split(paragraph):
            leans = before_is_gone and bool(_LEANS.match(sentence))
            before_is_gone = leans or _is_doubtful(sentence, pattern, layers_changed)
            (left_out if before_is_gone else stays).append(sentence)
        return " ".join(stays)

    def told(text: str) -> str:
        return _replaced(text, exercise, swaps)

    texts = exercise.texts
    paragraphs = (kept(p) for p in texts.background.split("\n\n"))
    cautions = (kept(c) for c in texts.cautions)
    questions = [q for q in texts.questions if not (layers_changed and _LAYER_WORDS.search(q))]
    left_out += [q for q in texts.questions if q not in questions]
    return (
        replace(
            texts,
            summary=_told_without_layers(told(texts.summary), layers_changed, left_out),
            background="\n\n".join(p for p in paragraphs if p),
            task=told(texts.task),
            cautions=tuple(c for c in cautions if c),
            questions=tuple(told(q) for q in questions),
        ),
        tuple(left_out),
    )


def _told_without_layers(text: str, layers_changed: bool, left_out: list[str]) -> str:
    """A summary without the half sentences that tell where the layer lies."""
    if not layers_changed:
        return text
    parts = text.split(", ")
    doubtful = [p for p in parts if _LAYER_WORDS.search(p)]
    left_out.extend(doubtful)
    return ", ".join(p for p in parts if p not in doubtful)


def _is_doubtful(sentence: str, pattern: re.Pattern[str] | None, layers_changed: bool) -> bool:
    if pattern is not None and pattern.search(sentence):
        return True
    return layers_changed and bool(_LAYER_WORDS.search(sentence))


def _pattern(exercise: Exercise, swaps: Mapping[str, str]) -> re.Pattern[str] | None:
    names = [re.escape(name) for key in swaps for name in names_of(key, exercise)]
    return re.compile(rf"\b({'|'.join(names)})\b", re.IGNORECASE) if names else None


def _replaced(text: str, exercise: Exercise, swaps: Mapping[str, str]) -> str:
    for old, new in swaps.items():
        word = material_word(new, exercise)
        for name in names_of(old, exercise):
            text = re.sub(rf"\b{re.escape(name)}\b", word, text, flags=re.IGNORECASE)
    return text


def renamed_plan(plan: Plan, exercise: Exercise, swaps: Mapping[str, str]) -> Plan:
    """The plan with names replaced in labels and notes."""
    return Plan(tuple(_renamed_step(step, exercise, swaps) for step in plan.steps))


def _renamed_step(step: Step, exercise: Exercise, swaps: Mapping[str, str]) -> Step:
    changes = {
        name: _replaced(value, exercise, swaps)
        for name, spec, value in step.fields()
        if spec.kind is FieldKind.TEXT and value
    }
    return dataclasses.replace(step, **changes) if changes else step
