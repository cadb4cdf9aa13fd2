"""What is written is read back equal: as TOML, and as JSON for the database."""

import dataclasses
import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.documents import strategies
from workups.chemistry.plan import START_FLASK, STEP_KINDS, Cool, Plan
from workups.chemistry.readings import Readings
from workups.documents import (
    DocumentError,
    assessment_from_data,
    assessment_to_data,
    dump_exercise,
    dump_plan,
    dump_readings,
    library_exercise,
    library_names,
    load_exercise,
    load_plan,
    load_readings,
    plan_from_data,
    plan_to_data,
    readings_from_data,
    readings_to_data,
    step_from_data,
    step_to_data,
)
from workups.grading.assessment import Assessment, Band


def through_json(data):
    return json.loads(json.dumps(data, allow_nan=False))


@pytest.mark.parametrize("kind", STEP_KINDS.values(), ids=lambda kind: kind.verb)
@settings(max_examples=25)
@given(data=st.data())
def test_a_step_of_every_kind_survives_json_and_toml(kind, data):
    step = data.draw(strategies.steps(kind))
    assert step_from_data(through_json(step_to_data(step))) == step
    assert load_plan(dump_plan(Plan((step,)))) == Plan((step,))


@settings(max_examples=60)
@given(strategies.plans())
def test_a_plan_survives_json_and_toml(plan):
    assert plan_from_data(through_json(plan_to_data(plan))) == plan
    text = dump_plan(plan, "some-exercise")
    assert load_plan(text) == plan
    assert dump_plan(load_plan(text), "some-exercise") == text


@settings(max_examples=40, deadline=None)
@given(strategies.exercises())
def test_an_exercise_survives_toml_and_is_written_the_same_again(exercise):
    text = dump_exercise(exercise)
    assert load_exercise(text) == exercise
    assert dump_exercise(load_exercise(text)) == text


@settings(max_examples=60, deadline=None)
@given(strategies.bench_records())
def test_a_bench_record_survives_json_and_toml(readings):
    assert readings_from_data(through_json(readings_to_data(readings))) == readings
    text = dump_readings(readings, "some-exercise")
    assert load_readings(text) == readings
    assert dump_readings(load_readings(text), "some-exercise") == text


@settings(max_examples=60, deadline=None)
@given(strategies.assessments)
def test_an_assessment_survives_json(assessment):
    assert assessment_from_data(through_json(assessment_to_data(assessment))) == assessment


def test_an_assessment_keeps_the_key_names_that_other_programs_read():
    data = assessment_to_data(Assessment("1", "some-exercise", 1, 500, (), (), ()))
    assert {"engine", "exercise", "expected", "steps", "checks", "readings",
            "diagnosis"} <= set(data)


def test_a_number_that_is_not_finite_is_not_stored():
    with pytest.raises(ValueError, match="not a finite number"):
        assessment_to_data(dataclasses.replace(
            Assessment("1", "x", 1, 500, (), (), ()), expected=(Band(math.nan, 0, 1),)))


def test_whole_numbers_lose_their_sign_of_zero_nowhere():
    step = Cool(id="cool", flask=START_FLASK, to_C=-0.0)
    read = load_plan(dump_plan(Plan((step,)))).steps[0]
    assert math.copysign(1, read.to_C) == -1


@pytest.mark.parametrize(
    "note", ["one\r\ntwo", "one\rtwo", "\n", 'quotes """ and \\', "'''", "§ é 漢"])
def test_awkward_notes_come_back_as_they_were(note):
    step = Cool(id="cool", flask=START_FLASK, note=note)
    assert load_plan(dump_plan(Plan((step,)))).steps[0].note == note


def test_an_empty_plan_and_an_empty_record_are_documents():
    assert load_plan(dump_plan(Plan(()))) == Plan(())
    assert load_readings(dump_readings(Readings())) == Readings()


@pytest.mark.parametrize("name", library_names())
def test_library_exercises_survive_being_written(name):
    exercise = library_exercise(name)
    assert load_exercise(dump_exercise(exercise)) == exercise


def test_stored_data_of_another_shape_is_refused_with_its_place():
    data = plan_to_data(library_exercise("too-much-vinegar").model_plan)
    data[2]["volume_mL"] = "forty"
    with pytest.raises(DocumentError) as caught:
        plan_from_data(data)
    assert caught.value.where == "step[3].volume_mL"


@pytest.mark.parametrize("data", [None, 3, "x", {}, [1], [{"verb": "cool"}], [{"verb": []}]])
def test_stored_data_that_is_no_plan_is_refused(data):
    with pytest.raises(DocumentError):
        plan_from_data(data)
