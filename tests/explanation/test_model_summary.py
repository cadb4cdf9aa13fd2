"""What an author is told of the model plan, against the same run's other numbers."""

from dataclasses import replace
from functools import cache

import pytest

from workups.documents import library_exercise
from workups.explanation.model_summary import drying_lines, gas_lines, plan_warnings
from workups.explanation.values_used import values_used
from workups.grading.assess import assess


@cache
def assessed(name: str):
    exercise = library_exercise(name)
    return exercise, exercise.model_plan, assess(exercise, draws=30)


def test_the_water_load_is_dissolved_water_and_droplets():
    """MTBE takes up about 1.5 % of water; 41.6 mL * 0.75 g/mL of layer hold about 0.3 g."""
    (line,) = drying_lines(*assessed("too-much-vinegar"))
    assert line.number == 10
    assert 0.15 < line.dissolved_g < 0.5
    assert 0 < line.droplets_g < 0.1
    assert line.agent_g == pytest.approx(round(line.agent_g / 0.5) * 0.5)


def test_gas_is_listed_where_acid_meets_bicarbonate():
    lines = gas_lines(*assessed("too-much-vinegar"))
    assert [line.number for line in lines] == [7]
    assert lines[0].gas.stoppered_gauge_kPa > 0


def test_what_is_lost_on_stripping_and_what_is_weighed_besides_is_said():
    warnings = " ".join(plan_warnings(*assessed("too-much-vinegar")))
    assert "leaves with the vapour at step 13 (Strip)" in warnings
    assert "1-hexanol" in warnings


def test_a_layer_that_is_worked_up_later_is_no_loss():
    """The acid and the base of the separation leave the organic layer on purpose."""
    warnings = plan_warnings(*assessed("three-in-one-bottle"))
    assert not any("step 2 " in w or "step 5 " in w for w in warnings)


def test_a_goal_that_six_portions_cannot_reach_is_said():
    exercise = library_exercise("too-much-vinegar")
    target = replace(exercise.setup.targets[0], recovery_goal=0.9999)
    hard = replace(exercise, setup=replace(exercise.setup, targets=(target,)))
    warnings = plan_warnings(hard, hard.model_plan, assess(hard, draws=30, curves=True))
    assert any("cannot be reached" in w for w in warnings)


def test_values_from_memory_stand_first_and_every_value_has_a_source():
    used = values_used(library_exercise("too-much-vinegar"))
    assert [v.quantity.grade for v in used] == sorted(
        (v.quantity.grade for v in used), key="BPA".index
    )
    assert all(v.source for v in used)
    hydrolysis = next(v for v in used if v.what == "rate with base")
    assert hydrolysis.grade_words == "from memory: check"


def test_the_instructors_own_value_takes_the_place_of_the_tables():
    exercise = library_exercise("too-much-vinegar")
    table = [v for v in values_used(exercise) if v.what.startswith("log10 K")]
    key = "log10_K:hexyl_acetate:mtbe"
    own = replace(table[0].quantity, value=2.0, grade="A", source="own measurement")
    changed = replace(exercise, setup=replace(exercise.setup, values={key: own}))
    assert any(v.of == "this exercise" and v.what == key for v in values_used(changed))
    assert len(values_used(changed)) == len(values_used(exercise))
