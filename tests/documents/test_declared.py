"""Every field of a document is declared, with help and bounds that its default keeps."""

import dataclasses

import pytest

from workups.chemistry.fields import of_field
from workups.chemistry.plan import STEP_KINDS, Plan
from workups.chemistry.readings import Readings
from workups.documents.shapes import Number, Record, Text, entries
from workups.exercise.exercise import Exercise


def reached(kind, seen):
    """All dataclasses that a document is made of."""
    seen.add(kind)
    for entry in entries(kind):
        shape = entry.shape
        while hasattr(shape, "item"):
            shape = shape.item
        if isinstance(shape, Record) and shape.kind not in seen:
            reached(shape.kind, seen)
    return seen


OF_EXERCISE = sorted(reached(Exercise, set()), key=lambda kind: kind.__name__)
KINDS = sorted(reached(Exercise, set()) | reached(Plan, set()) | reached(Readings, set()),
               key=lambda kind: kind.__name__)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_field_of_a_document_says_what_it_is(kind):
    said = [of_field(field).help for field in dataclasses.fields(kind)]
    assert all(help and not help.endswith(".") for help in said)


@pytest.mark.parametrize("kind", OF_EXERCISE, ids=lambda kind: kind.__name__)
def test_every_field_of_an_exercise_has_a_label(kind):
    """For the author form and for the sentences on what two exercises differ in."""
    assert all(of_field(field).label for field in dataclasses.fields(kind))


@pytest.mark.parametrize("kind", [*KINDS, *STEP_KINDS.values()], ids=lambda kind: kind.__name__)
def test_defaults_lie_within_what_is_allowed(kind):
    for entry in entries(kind):
        if entry.required or entry.default is None:
            continue
        if isinstance(entry.shape, Number):
            low, high = entry.shape.low, entry.shape.high
            assert low is None or entry.default >= low, entry.key
            assert high is None or entry.default <= high, entry.key
        if isinstance(entry.shape, Text) and entry.shape.choices:
            assert entry.default in entry.shape.choices, entry.key


@pytest.mark.parametrize("kind", [*KINDS, *STEP_KINDS.values()], ids=lambda kind: kind.__name__)
def test_no_two_fields_are_written_under_one_key(kind):
    keys = [entry.key for entry in entries(kind) if not entry.flat]
    assert len(set(keys)) == len(keys)
