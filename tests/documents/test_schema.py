"""The printed schema and the JSON Schema name every key that is really written."""

import tomllib

import pytest
from jsonschema import Draft202012Validator

from tests.documents.test_declared import KINDS
from workups.chemistry.plan import STEP_KINDS, field_specs
from workups.chemistry.readings import DoneStep, Readings, SeenVolume, TargetReadings, Weighing
from workups.documents import dump_plan, dump_readings, library_exercise, library_text
from workups.documents.schema import DOCUMENT_KINDS, document_schema, json_schema


@pytest.fixture(scope="module")
def documents():
    exercise = library_exercise("too-much-vinegar")
    plan = exercise.model_plan
    readings = Readings(
        steps=tuple(DoneStep(step, "done") for step in plan.steps),
        targets={"hexyl_acetate": TargetReadings((Weighing("tare", 58.3),))},
        volumes=(SeenVolume("extract", "organic layer", 47.0),))
    return {"exercise": tomllib.loads(library_text("too-much-vinegar")),
            "plan": tomllib.loads(dump_plan(plan, exercise.key)),
            "readings": tomllib.loads(dump_readings(readings, exercise.key))}


def complaints(document, value):
    """What the JSON Schema has against a value, by its place: the words of the innermost rule."""
    schema = json_schema(document)
    Draft202012Validator.check_schema(schema)
    found = Draft202012Validator(schema).iter_errors(value)
    return sorted(f"{error.json_path}: {error.message}" for error in found)


@pytest.mark.parametrize("document", DOCUMENT_KINDS)
def test_real_documents_fit_the_json_schema(document, documents):
    assert complaints(document, documents[document]) == []


def test_the_json_schema_finds_mistakes(documents):
    step = {"verb": "cool", "id": "x", "flask": "f", "to_C": 400, "too": 1}
    broken = {**documents["plan"], "version": 2, "extra": 1, "step": [step]}
    found = complaints("plan", broken)
    for place, word in (("$.version", "1 was expected"), ("$", "'extra' was unexpected"),
                        ("$.step[0]", "")):
        assert any(one.startswith(f"{place}:") and word in one for one in found), found
    for slip in ({"to_C": 400}, {"too": 1}, {"verb": "percolate"}):
        right = {"verb": "cool", "id": "x", "flask": "f", "to_C": 4}
        plan = {**documents["plan"], "step": [right]}
        assert complaints("plan", plan) == []
        assert complaints("plan", {**plan, "step": [{**right, **slip}]}) != []


@pytest.mark.parametrize("verb", STEP_KINDS)
def test_every_kind_of_step_is_in_every_schema(verb):
    for document in DOCUMENT_KINDS:
        table = next(t for t in document_schema(document) if f'verb = "{verb}"' in t.header)
        assert [line.key for line in table.keys] == ["verb", "id", *field_specs(STEP_KINDS[verb])]
        properties = json_schema(document)["$defs"][f"step-{verb}"]["properties"]
        assert set(properties) == {"verb", "id", *field_specs(STEP_KINDS[verb])}


def test_units_and_limits_of_a_field_are_printed():
    table = next(t for t in document_schema("plan") if 'verb = "wash"' in t.header)
    line = next(line for line in table.keys if line.key == "volume_mL")
    assert (line.value, line.default) == ("a number from 0.1 to 2000 mL", "required")


def test_the_tables_of_an_exercise_are_all_described():
    headers = [t.header for t in document_schema("exercise")]
    assert {"[reaction]", "[[reaction.reagent]]", "[reaction.conversion]", "[[target]]",
            "[[own_material]]", "[glassware]", "[values.NAME]", "[rubric]", "[texts]",
            "[[model_plan.step]]", "[[alternative.step]]", "[[choice]]"} <= set(headers)
    assert len(headers) == len(set(headers))
    assert len(headers) - len(STEP_KINDS) >= len(KINDS) // 2
