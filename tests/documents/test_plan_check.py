"""A plan may only use flasks that are there and materials that are on the bench."""

import dataclasses
from pathlib import Path

import pytest

from workups.chemistry.fields import MAX_STEPS
from workups.chemistry.plan import (
    START_FLASK,
    WASTE,
    Add,
    Combine,
    Discard,
    Dry,
    Extract,
    Plan,
    Tare,
    Transfer,
)
from workups.documents import (
    check_plan,
    flasks_before,
    library_exercise,
    library_names,
    load_plan,
    load_readings,
)

DATA = Path(__file__).parent.parent / "data"
EXTRACT = Extract(id="extract", flask=START_FLASK, material="mtbe", volume_mL=20,
                  keep_in="ether", other_in="water layer")


@pytest.fixture(scope="module")
def exercise():
    return library_exercise("too-much-vinegar")


def found(exercise, *steps):
    return [(p.step_id, p.field, p.message) for p in check_plan(Plan(steps), exercise)]


@pytest.mark.parametrize("name", library_names())
def test_the_routes_of_the_library_can_be_carried_out(name):
    exercise = library_exercise(name)
    for plan in (exercise.model_plan, *exercise.alternatives):
        assert check_plan(plan, exercise) == []


@pytest.mark.parametrize("path", sorted((DATA / "plans").glob("*.toml")), ids=lambda p: p.stem)
def test_planted_mistakes_are_plans_that_can_be_carried_out(path, exercise):
    assert check_plan(load_plan(path.read_text(encoding="utf-8"), exercise), exercise) == []


@pytest.mark.parametrize("path", sorted((DATA / "readings").glob("*.toml")), ids=lambda p: p.stem)
def test_planted_readings_fit_the_exercise(path, exercise):
    readings = load_readings(path.read_text(encoding="utf-8"), exercise)
    assert set(readings.targets) == {"hexyl_acetate"}


def test_a_flask_that_no_step_has_made_is_named_with_the_nearest_that_is_there(exercise):
    dry = Dry(id="dry", flask="Ether", agent="magnesium_sulfate")
    assert found(exercise, EXTRACT, dry) == [
        ("dry", "flask",
         'flask "Ether" does not exist at this point (did you mean "ether"?)')]


def test_a_flask_does_not_exist_before_the_step_that_makes_it(exercise):
    dry = Dry(id="dry", flask="ether", agent="magnesium_sulfate")
    assert [p[:2] for p in found(exercise, dry, EXTRACT)] == [("dry", "flask")]


def test_nothing_comes_back_from_the_waste(exercise):
    thrown = dataclasses.replace(EXTRACT, other_in=WASTE)
    again = Transfer(id="again", flask=WASTE, into="beaker")
    assert found(exercise, thrown, again) == [
        ("again", "flask", "nothing can be taken back from the waste: name a flask")]


def test_only_a_layer_may_go_to_waste_not_the_one_that_is_kept(exercise):
    assert found(exercise, dataclasses.replace(EXTRACT, keep_in=WASTE)) == [
        ("extract", "keep_in", "this cannot go to waste: name a flask")]


def test_the_two_layers_go_to_two_flasks(exercise):
    assert found(exercise, dataclasses.replace(EXTRACT, other_in="ether")) == [
        ("extract", "other_in", "both layers would go to the same flask")]


def test_a_material_must_be_on_the_bench_of_this_exercise(exercise):
    ether = dataclasses.replace(EXTRACT, material="diethyl_ether")
    assert found(exercise, ether)[0][1:] == (
        "material", '"diethyl_ether" is not among the materials of this exercise')


def test_a_beaker_may_be_filled_that_no_earlier_step_has_named(exercise):
    water = Add(id="water", flask="beaker", material="water", volume_mL=100)
    pour = Transfer(id="pour", flask=START_FLASK, into="beaker")
    assert found(exercise, water, pour) == []
    assert found(exercise, dataclasses.replace(water, flask=WASTE)) != []


@pytest.mark.parametrize("material", ["sodium_sulfate", "no_such_thing"])
def test_a_material_must_be_of_the_right_sort(exercise, material):
    problem = found(exercise, Add(id="add", flask=START_FLASK, material=material, volume_mL=1))[0]
    assert problem[2].startswith(f'expected a solvent or solution, found "{material}"')


def test_flasks_to_combine_are_there_and_named_once(exercise):
    combine = Combine(id="combine", flasks=("ether", "ether", "oil"), into="all")
    assert [p[2] for p in found(exercise, EXTRACT, combine)] == [
        'flask "oil" does not exist at this point', "the same flask is named twice"]
    nothing = Combine(id="combine", flasks=(), into="all")
    assert found(exercise, nothing)[0][2] == "expected at least one flask, found none"


def test_an_emptied_or_poured_away_flask_is_still_a_flask(exercise):
    poured = Discard(id="pour", flask="ether")
    assert found(exercise, EXTRACT, poured, dataclasses.replace(
        EXTRACT, id="again", flask="ether", keep_in="more")) == []


def test_a_tared_flask_is_there_to_be_filled(exercise):
    assert flasks_before(Plan((Tare(id="tare", flask="vial"), EXTRACT)), "extract") == (
        START_FLASK, "vial")
    assert flasks_before(Plan((EXTRACT,)), "not there") == (START_FLASK, "ether", "water layer")


def test_a_plan_of_too_many_steps_is_refused_as_a_whole(exercise):
    steps = [Tare(id=f"s{n}", flask="vial") for n in range(MAX_STEPS + 1)]
    assert found(exercise, *steps) == [("", "", "expected at most 60 steps, found 61")]
