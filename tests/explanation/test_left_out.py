"""What is left out is said with a size and a source, and of the exercises it touches."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry.quantity import Quantity
from workups.documents import library_exercise, library_names
from workups.explanation.left_out import LEFT_OUT, left_out_of

LIBRARY = {name: library_exercise(name) for name in library_names()}


def touched(name: str) -> set[str]:
    return {effect.key for effect in left_out_of(LIBRARY[name])}


def test_each_effect_says_what_it_is_how_much_and_from_where() -> None:
    assert len({effect.key for effect in LEFT_OUT}) == len(LEFT_OUT) >= 12
    for effect in LEFT_OUT:
        for text in (effect.title, effect.what, effect.size, effect.source, effect.where):
            assert text.strip(), effect.key
        assert effect.what.endswith(".")
        assert effect.size.endswith(".")


def test_no_exercise_is_free_of_all_and_none_has_them_all() -> None:
    for name in LIBRARY:
        assert 3 <= len(touched(name)) < len(LEFT_OUT), name


@pytest.mark.parametrize(
    ("name", "there", "not_there"),
    [
        ("plain-ether", {"estimated-K", "emulsions", "by-products"},
         {"crystals", "interface", "ion-pairs", "zwitterions", "temperature-of-constants"}),
        ("three-in-one-bottle", {"crystals", "purification", "temperature-of-constants"},
         {"by-products", "cosolvent"}),
        ("too-much-vinegar", {"interface", "gas-in-time"}, {"crystals", "zwitterions"}),
        ("there-and-back", {"cosolvent", "decomposition"}, {"purification"}),
    ])
def test_an_exercise_is_told_what_touches_it(
    name: str, there: set[str], not_there: set[str]
) -> None:
    found = touched(name)
    assert there <= found
    assert not not_there & found


def test_what_an_author_measures_or_states_is_left_out_no_more() -> None:
    """A base in dichloromethane: its salt's ion pair, until the exercise states one; and its K."""
    exercise = LIBRARY["three-in-one-bottle"]
    chlorinated = replace(exercise, setup=replace(exercise.setup, materials=tuple(
        "dichloromethane" if m in exercise.setup.tables.solvents else m
        for m in exercise.setup.materials)))
    assert "ion-pairs" in {e.key for e in left_out_of(chlorinated)}
    stated = {"log10_Kip:lidocaine:chloride:dichloromethane": Quantity(1, "L/mol", 0.3, "own", "B")}
    assert "ion-pairs" not in {e.key for e in left_out_of(
        replace(chlorinated, setup=replace(chlorinated.setup, values=stated)))}
