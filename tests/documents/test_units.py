"""Every value with a unit: in another unit, too large, too small or of many digits it is refused.

The fields are found by walking what an exercise is made of, so that a new one is tried too.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.chemistry.own_substances import FILE
from workups.chemistry.ownable import POINTING, ownable
from workups.chemistry.plan import STEP_KINDS
from workups.chemistry.practice import PRACTICE
from workups.chemistry.quantity import Quantity
from workups.documents import DocumentError, library_text
from workups.documents.errors import Path, dotted
from workups.documents.files import exercise_of
from workups.documents.pointers import put, value_at
from workups.documents.shapes import AnyStep, ListOf, Number, Record, Row, Shape, TableOf, entries
from workups.documents.toml_text import parse
from workups.exercise.exercise import Exercise

OWN = {
    **{name: (q.value, q.unit, q.uncertainty) for name, q in PRACTICE.items()},
    "log10_K:4_fluorobenzoic_acid:mtbe": (1.9, "1", 0.3),
    "log10_Kip:lidocaine:chloride:chloroform": (1.0, "L/mol", 0.3),
    "pKa1:4_fluorobenzoic_acid": (4.1, "1", 0.1),
    "pKa2:citric_acid": (4.8, "1", 0.1), "pKa3:citric_acid": (6.4, "1", 0.1),
}


def _quantity(value: float, unit: str, uncertainty: float) -> dict[str, Any]:
    return {"value": value, "unit": unit, "uncertainty": uncertainty, "source": "own",
            "grade": "B"}


def full() -> dict[str, Any]:
    """An exercise that states everything that has a unit."""
    data = parse(FILE.read_text(encoding="utf-8"))
    other = parse(library_text("too-much-vinegar"))
    data["slow_reaction"] = [copy.deepcopy(other["slow_reaction"][0])]
    data["values"] = {name: _quantity(*said) for name, said in OWN.items()}
    data["substance"][0]["antoine"] = {
        "A": 9.0, "B": 1500.0, "C": -60.0, "T_min_K": 290.0, "T_max_K": 400.0,
        "uncertainty_pct": 5.0, "source": "own", "grade": "B"}
    return data


DATA = full()


def found(shape: Shape, path: Path, kind: type | None = None) -> Iterator[tuple[Shape, Path, Any]]:
    """Every place of a document that has a shape, and the dataclass it is a field of."""
    yield shape, path, kind
    value = value_at(DATA, path) if path else DATA
    match shape:
        case Record(kind=inner):
            for entry in entries(inner):
                here = path if entry.flat else (*path, entry.key)
                if entry.flat or value_at(DATA, here) is not None:
                    yield from found(entry.shape, here, inner)
        case TableOf(item=item) if isinstance(value, dict):
            for key in value:
                yield from found(item, (*path, key), kind)
        case ListOf(item=item) if isinstance(value, list):
            for number in range(1, len(value) + 1):
                yield from found(item, (*path, number), kind)
        case Row(items=items) if isinstance(value, list):
            for number, item in enumerate(items, 1):
                yield from found(item, (*path, number), kind)
        case AnyStep() if isinstance(value, dict):
            yield from found(Record(STEP_KINDS[value["verb"]]), path)


PLACES = [(shape, path, kind) for shape, path, kind in found(Record(Exercise), ())
          if isinstance(value_at(DATA, path), int | float | dict)]
NUMBERS = [(shape, path) for shape, path, _ in PLACES if isinstance(shape, Number)]
QUANTITIES = [path for shape, path, _ in PLACES if shape == Record(Quantity)]


def refused(path: Path, value: Any) -> list[tuple[str, str]]:
    """The problems of the exercise with one value changed, by where they are."""
    data = copy.deepcopy(DATA)
    put(data, path, value)
    with pytest.raises(DocumentError) as caught:
        exercise_of(data)
    return [(p.where, p.message) for p in caught.value.problems]


def test_the_exercise_with_everything_in_it_is_right() -> None:
    exercise_of(copy.deepcopy(DATA))


def test_every_kind_of_value_with_a_unit_is_tried() -> None:
    heads = {"/".join(map(str, path[:2])) for path in QUANTITIES}
    assert {"values/film_mL", "substance/1", "slow_reaction/1"} <= heads
    assert {path[1] for path in QUANTITIES if path[0] == "values"} == OWN.keys()
    assert PRACTICE.keys() <= OWN.keys()
    assert POINTING.keys() <= {str(name).partition(":")[0] for name in OWN}
    assert len(NUMBERS) > 100


@pytest.mark.parametrize("unit", ["1/s", "h", "banana", "mg", "%", "ML", "pKa"])
def test_a_value_in_another_unit_is_refused_with_the_one_expected(unit: str) -> None:
    for path in QUANTITIES:
        said = dict(refused((*path, "unit"), unit))
        right = value_at(DATA, path)["unit"]
        assert said[dotted((*path, "unit"))] == f'expected "{right}", found "{unit}"', path


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_value_out_of_all_bounds_is_a_sentence_at_its_place(data: st.DataObject) -> None:
    path = data.draw(st.sampled_from([(*path, part) for path in QUANTITIES
                                      for part in ("value", "uncertainty")]))
    value = data.draw(st.sampled_from([-1e300, 1e300, 10**4000, -(10**4000), "4", True,
                                       float("nan"), float("inf")]))
    said = dict(refused(path, value))
    assert "expected" in said[dotted(path)]
    assert len(said[dotted(path)]) < 300


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_number_beyond_what_its_field_takes_is_a_sentence_at_its_place(
    data: st.DataObject,
) -> None:
    shape, path = data.draw(st.sampled_from(NUMBERS))
    beyond: list[Any] = [10**4000, -(10**4000), "4", True, float("nan"), float("-inf")]
    beyond += [] if shape.low is None else [shape.low - 1]
    beyond += [] if shape.high is None else [shape.high * 2 + 1]
    said = dict(refused(path, data.draw(st.sampled_from(beyond))))
    assert "expected" in said[dotted(path)]
    assert len(said[dotted(path)]) < 300


def test_every_number_that_is_no_pure_one_says_its_unit_in_its_name_or_its_declaration() -> None:
    """Of what is typed as a bare number the unit stands in the key, or there is none to mistake."""
    pure = {"coefficient", "purity", "conversion", "recovery_goal", "water_and_salt_limit",
            "portions", "rinses", "readings", "washes", "charge_top", "drying_plan_share"}
    for shape, path in NUMBERS:
        name = str(path[-1])
        typed = {"value", "uncertainty", "low", "nominal", "high"}  # with a unit beside, or a share
        counted = name in pure or name in typed or (len(path) > 1 and path[-2] in (
            "components", "products", "points", "composition", "antoine"))
        assert shape.unit or counted or name in ("until_pH", "attempts"), path


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("film_ml", "film_mL"), ("filmmL", "film_mL"), ("droplet_setling_min", "droplet_settling_min"),
     ("brine_clearin", "brine_clearing"), ("pka1:acetic_acid", "pKa1"),
     ("log10_k:acetic_acid:mtbe", "log10_K"), ("wisdom", "")])
def test_a_misspelt_name_of_an_own_value_is_refused_with_the_nearest(
    typed: str, meant: str
) -> None:
    assert ownable(typed) is None
    [(where, message)] = refused(("values", typed), _quantity(1.0, "1", 0.1))
    assert where == dotted(("values", typed))
    assert message.startswith("is no value that an exercise can replace")
    assert (f'did you mean "{meant}"?' in message) == bool(meant), message


@pytest.mark.parametrize(
    ("name", "unit", "said"),
    [("pKa3:acetic_acid", "1", "acetic acid has 1 pKa in the tables"),
     ("pKa1:hexyl_acetate", "1", "hexyl acetate has no pKa in the tables"),
     ("log10_Kip:acetic_acid:chloride:mtbe", "L/mol", "acetic acid is no base")])
def test_an_own_value_that_nothing_would_be_reckoned_with_is_refused(
    name: str, unit: str, said: str
) -> None:
    [(_, message)] = refused(("values", name), _quantity(1.0, unit, 0.1))
    assert said in message
