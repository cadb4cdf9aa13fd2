"""What a stockroom puts out. Volumes are added up by hand from the library's model plans."""

from dataclasses import replace
from functools import cache

import pytest

from workups.chemistry.plan import WASTE, Add, Discard, Plan, Wash
from workups.documents import library_exercise, library_names
from workups.grading.orphans import without_orphans
from workups.stock.stock import Need, rounded_up, scaled, stock_for_one

ESTER, ETHER = "too-much-vinegar", "plain-ether"


@cache
def stock(name: str = ESTER):
    return stock_for_one(library_exercise(name))


def need(key: str, name: str = ESTER) -> Need:
    return next(n for n in stock(name).needs if n.key == key)


@pytest.mark.parametrize(
    ("key", "mL"),
    [
        ("water", 30 + 30),  # into the reaction flask, one wash
        ("mtbe", 40 + 2 * 5),  # one extraction, two rinses of the filter
        ("nahco3_5pct", 2 * 25),
        ("brine", 20),
    ],
)
def test_volumes_are_the_sum_over_all_steps_and_portions(key, mL):
    assert need(key).amount == pytest.approx(mL)
    assert need(key).unit == "mL"


def test_a_reagent_is_put_out_as_the_table_plans_it():
    hexanol, acid = need("1_hexanol"), need("sulfate")
    assert (hexanol.amount, hexanol.unit, hexanol.by_staff) == (5.11, "g", False)
    assert acid.by_staff


def test_the_drying_agent_is_what_the_water_load_takes_in_whole_portions():
    """Portions of 0.5 g until free-flowing; 0.28 g of water is 15.7 mmol, and 0.5 g of MgSO4
    (4.15 mmol) turned to the heptahydrate takes up 29 mmol: the endpoint asks for a loose rest,
    so between one and four portions."""
    agent = need("magnesium_sulfate")
    assert agent.unit == "g"
    assert agent.amount / 0.5 == pytest.approx(round(agent.amount / 0.5))
    assert 0.5 <= agent.amount <= 2.0


def test_acid_until_a_ph_is_what_the_simulation_needed():
    """Three-in-one-bottle: 40 mL of 5 % bicarbonate hold 40 * 0.62 = 24.6 mmol; bringing them
    to a pH where all is CO2 takes 24.6 mmol of acid, 8.2 mL at 3 M, and a little more for
    the pH itself."""
    assert need("hcl_3m", "three-in-one-bottle").amount == pytest.approx(8.7, abs=0.6)


def test_a_class_needs_as_much_as_its_students_and_the_spare():
    class_of_16 = scaled(stock(), 16, 0.10)
    solvent = next(n for n in class_of_16.needs if n.key == "mtbe")
    assert solvent.amount == pytest.approx(50 * 16 * 1.1)
    assert all(g.count == 16 for g in class_of_16.glass)
    assert [w.volume_mL for w in class_of_16.waste] == pytest.approx(
        [16 * w.volume_mL for w in stock().waste]
    )


def test_waste_goes_to_the_stream_that_the_plan_says():
    waste = {w.stream: w for w in stock().waste}
    assert set(waste) == {"aqueous", "acid", "non_halogenated", "solid"}
    # Two bicarbonate portions and the brine, with what they took up or left behind.
    assert waste["aqueous"].volume_mL == pytest.approx(70, abs=6)
    # Two 30 mL portions of water with about 90 of the 100 mmol of acetic acid (5.2 mL) and
    # some solvent.
    assert waste["acid"].volume_mL == pytest.approx(60 + 5.2, abs=6)
    assert waste["acid"].container_mL == pytest.approx(waste["acid"].volume_mL / 0.8)


def test_solvent_that_was_stripped_off_and_the_cake_are_waste_too():
    waste = {w.stream: w for w in stock().waste}
    assert 30 < waste["non_halogenated"].volume_mL < 50
    assert waste["solid"].solid_g > need("magnesium_sulfate").amount


def test_flasks_are_two_thirds_full_at_most_and_stripped_ones_half():
    for vessel in stock().glass:
        if vessel.kind == "flask":
            limit = 0.5 if vessel.name == "round-bottom flask" else 0.67
            assert vessel.fullest_mL <= limit * vessel.size_mL, vessel
    assert stock().glass[0].name == "separatory funnel"


def test_instruments_are_counted_with_their_time():
    times = {i.name: i for i in stock().instruments}
    assert times["balance"].uses == 2
    assert times["rotary evaporator"].uses == 1
    assert times["rotary evaporator"].minutes > 5


def test_amounts_are_rounded_up_never_down():
    assert rounded_up(880.1) == 890
    assert rounded_up(880.0) == 880
    assert rounded_up(0.92) == pytest.approx(0.92)
    assert rounded_up(0.0) == 0


@pytest.mark.parametrize("name", library_names())
def test_every_library_exercise_has_a_prep_sheet(name):
    found = stock(name)
    assert all(n.amount > 0 for n in found.needs)
    assert {n.kind for n in found.needs} <= {"reagent", "solvent", "solution", "drying agent"}


def test_a_plan_that_never_shakes_needs_no_funnel():
    exercise = library_exercise(ESTER)
    plan = exercise.model_plan
    no_shake = replace(plan, steps=plan.steps[:2])
    glass = stock_for_one(replace(exercise, model_plan=no_shake)).glass
    assert [g.kind for g in glass] == ["flask"]


def test_a_layer_that_goes_straight_to_waste_is_counted_to_the_stream_it_went_to():
    """It was counted to the first stream by name: to acid, where acid was poured away before."""
    exercise = library_exercise(ESTER)
    plan = exercise.model_plan
    wash = plan.of(Wash)[-1]
    acid = Add(id="acid", flask="acid beaker", material="water", volume_mL=5.0)
    away = Discard(id="away", flask="acid beaker", stream="acid")
    changed = without_orphans(
        Plan((acid, away, *plan.replacing(replace(wash, other_in=WASTE)).steps)))
    found = stock_for_one(replace(exercise, model_plan=changed)).waste
    holds = {w.stream: w.holds for w in found}
    assert not any(wash.id in said for said in holds["acid"])
    assert any(wash.id in said for said in holds["aqueous"])
