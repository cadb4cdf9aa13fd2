"""The printed schema and the JSON Schema name every key that is really written."""

import tomllib

import pytest

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


def complaints(schema, value, definitions, place="$"):
    """What a JSON Schema has against a value: just the words that our schemas use."""
    if "$ref" in schema:
        schema = {**definitions[schema["$ref"].rpartition("/")[2]], **schema}
    if "const" in schema and value != schema["const"]:
        yield f"{place}: not {schema['const']}"
    if "enum" in schema and value not in schema["enum"]:
        yield f"{place}: {value} not in {schema['enum']}"
    kinds = {"object": dict, "array": list, "string": str, "boolean": bool,
             "number": (int, float), "integer": int}
    if "type" in schema and not isinstance(value, kinds[schema["type"]]):
        yield f"{place}: no {schema['type']}"
        return
    if isinstance(value, int | float) and not isinstance(value, bool) and not (
            schema.get("minimum", value) <= value <= schema.get("maximum", value)):
        yield f"{place}: {value} out of range"
    if isinstance(value, list):
        for number, item in enumerate(value):
            yield from complaints(schema["items"], item, definitions, f"{place}[{number}]")
    if isinstance(value, dict):
        yield from object_complaints(schema, value, definitions, place)


def object_complaints(schema, value, definitions, place):
    properties = dict(schema.get("properties", {}))
    required = list(schema.get("required", []))
    if "oneOf" in schema:
        fitting = [definitions[one["$ref"].rpartition("/")[2]] for one in schema["oneOf"]]
        fitting = [one for one in fitting
                   if one["properties"]["verb"]["const"] == value.get("verb")]
        assert len(fitting) == 1, place
        properties |= fitting[0]["properties"]
        required += fitting[0]["required"]
    yield from (f"{place}: no {key}" for key in required if key not in value)
    closed = (schema.get("unevaluatedProperties") is False
              or schema.get("additionalProperties") is False)
    for key, inner in value.items():
        if key in properties:
            yield from complaints(properties[key], inner, definitions, f"{place}.{key}")
        elif isinstance(schema.get("additionalProperties"), dict):
            yield from complaints(schema["additionalProperties"], inner, definitions,
                                  f"{place}.{key}")
        elif closed:
            yield f"{place}.{key}: unknown"


@pytest.mark.parametrize("document", DOCUMENT_KINDS)
def test_real_documents_fit_the_json_schema(document, documents):
    schema = json_schema(document)
    assert list(complaints(schema, documents[document], schema["$defs"])) == []


def test_the_json_schema_finds_mistakes(documents):
    schema = json_schema("plan")
    broken = {**documents["plan"], "version": 2, "extra": 1,
              "step": [{"verb": "cool", "id": "x", "flask": "f", "to_C": 400, "too": 1}]}
    found = list(complaints(schema, broken, schema["$defs"]))
    assert found == ["$.version: not 1", "$.step[0].to_C: 400 out of range",
                     "$.step[0].too: unknown", "$.extra: unknown"]


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
