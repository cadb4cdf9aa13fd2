"""Differences between two exercises, in words."""

from dataclasses import fields, replace

import pytest

from workups.chemistry.plan import Wash
from workups.chemistry.quantity import Quantity
from workups.chemistry.setup import Glassware, Setup
from workups.documents import library_exercise
from workups.documents.differences import by_topic, differences
from workups.documents.variants import Swap, Variant, varied
from workups.exercise.exercise import Choice, Exercise, FeedbackPolicy, SafetySheet, Texts


@pytest.fixture(scope="module")
def vinegar():
    return library_exercise("too-much-vinegar")


def sentences(before, after):
    return [d.sentence.replace("\xa0", " ") for d in differences(before, after)]


def with_setup(exercise, **changes):
    return replace(exercise, setup=replace(exercise.setup, **changes))


def test_equal_exercises_do_not_differ(vinegar):
    assert differences(vinegar, library_exercise("too-much-vinegar")) == ()


def test_amounts_goals_glass_and_values_are_told(vinegar):
    setup = vinegar.setup
    hexanol = setup.reaction.reagents[0]
    other = with_setup(
        vinegar,
        reaction=replace(
            setup.reaction,
            reagents=(replace(hexanol, mass_g=6.0), *setup.reaction.reagents[1:]),
        ),
        targets=(replace(setup.targets[0], recovery_goal=0.9),),
        glassware=replace(setup.glassware, funnel_mL=500.0),
        room_C=25.0,
        values={**setup.values, "film_mL": Quantity(0.4, "mL", 0.1, "own", "P")},
    )
    found = sentences(vinegar, other)
    assert "1-hexanol: 6 g instead of 5.11 g." in found
    assert "Hexyl acetate, recovery goal: 0.9 instead of 0.95." in found
    assert "Separatory funnel: 500 mL instead of 250 mL." in found
    assert "Temperature of the room: 25 °C instead of 20 °C." in found
    assert "Own values, film_mL: 0.4 mL." in found
    assert len(found) == 5


def test_steps_that_came_went_changed_or_moved_are_told_as_sentences(vinegar):
    plan = vinegar.model_plan
    wash = next(s for s in plan.steps if isinstance(s, Wash))
    gone = plan.steps[-1]
    changed = plan.replacing(replace(wash, volume_mL=77.0)).without(gone.id)
    moved = changed.moving(changed.steps[-1].id, 0)
    found = sentences(vinegar, replace(vinegar, model_plan=moved))
    assert any("77 mL" in s and " was: " in s and " Now: " in s for s in found)
    assert any(s.startswith(f"Step {len(plan.steps)} is gone: Pour") for s in found)
    assert "The order of the steps changed." in found


def test_marks_and_choices_are_told(vinegar):
    other = replace(
        vinegar,
        rubric=replace(vinegar.rubric, points={**vinegar.rubric.points, "yield": 25.0}),
        choices=(*vinegar.choices, Choice("combine", "before washing")),
        fixed_portions=3,
    )
    topics = dict(by_topic(differences(vinegar, other)))
    assert set(topics) == {"Marks"}
    assert any(s.startswith("Yield: 25\xa0points instead of") for s in topics["Marks"])
    assert any("before washing instead of either" in s for s in topics["Marks"])
    assert "Fixed number of extractions: 3." in topics["Marks"]


def test_a_switch_of_the_simulation_is_told_by_its_label(vinegar):
    other = with_setup(vinegar, salting=not vinegar.setup.salting)
    assert sentences(vinegar, other) == [
        "Dissolved salt drives substances out of the water: no instead of yes."
    ]


def test_a_variant_is_told_in_the_same_words(vinegar):
    other = varied(vinegar, Variant((Swap("magnesium_sulfate", "sodium_sulfate"),))).exercise
    found = sentences(vinegar, other)
    assert "On the bench, not any more: anhydrous magnesium sulfate." in found
    assert any("anhydrous sodium sulfate" in s and " Now: " in s for s in found)


def other(value):
    """Something else of the same type."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value + 1
    if isinstance(value, str):
        return f"{value} and more"
    if isinstance(value, tuple):
        return value[1:] if len(value) > 1 else (*value, *ONE_MORE)
    return {} if value else {"film_mL": Quantity(0.4, "mL", 0.1, "own", "P")}


ONE_MORE = ("one more",)
PARTS = {
    "exercise": (lambda e: e, lambda _, part: part),
    "setup": (lambda e: e.setup, lambda e, part: replace(e, setup=part)),
    "texts": (lambda e: e.texts, lambda e, part: replace(e, texts=part)),
    "glassware": (
        lambda e: e.setup.glassware,
        lambda e, part: replace(e, setup=replace(e.setup, glassware=part)),
    ),
    "policy": (lambda e: e.policy, lambda e, part: replace(e, policy=part)),
}
SHEETS = (SafetySheet("Hexyl acetate", "https://sheets.example/1"),)
ELSEWHERE = {"setup", "texts", "model_plan", "rubric", "policy", "reaction", "glassware"}
OTHER_VALUES = {
    "safety_sheets": SHEETS,
    "balance_repeatability_g": 0.02,
    "fixed_portions": 3,
    "detail": "which checks",
    "priors": {"no-rinse": 0.5},
    "targets": (),
    "own_materials": (),
    "own_substances": (),
    "slow_reactions": (),
    "choices": (),
}
FIELDS = [
    (part, f.name)
    for part, kind in (
        ("exercise", Exercise),
        ("setup", Setup),
        ("texts", Texts),
        ("glassware", Glassware),
        ("policy", FeedbackPolicy),
    )
    for f in fields(kind)
    if f.name not in ELSEWHERE
]


@pytest.mark.parametrize(("part", "name"), FIELDS)
def test_no_field_is_forgotten(vinegar, part, name):
    """Whatever an exercise has or comes to have: a change of it is told, and is no error."""
    take, put = PARTS[part]
    value = getattr(take(vinegar), name)
    changed = OTHER_VALUES.get(name, other(value))
    if changed == value:
        pytest.skip("this exercise has nothing there to take away")
    after = put(vinegar, replace(take(vinegar), **{name: changed}))
    assert differences(vinegar, after)
    assert differences(after, vinegar)


def test_another_emergency_text_is_told(vinegar):
    texts = replace(vinegar.texts, emergency="Call 7.", safety_sheets=SHEETS)
    found = sentences(vinegar, replace(vinegar, texts=texts))
    assert found == [
        "In an emergency with these chemicals: rewritten.",
        "Safety data sheets, new: Hexyl acetate.",
    ]
