"""`format_schema` prints the schema as text and as JSON Schema."""

import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command


def printed(*arguments):
    out = StringIO()
    call_command("format_schema", *arguments, stdout=out)
    return out.getvalue()


def test_all_three_documents_and_the_kinds_of_step_are_printed():
    text = printed()
    for heading in ("EXERCISE\n", "PLAN\n", "READINGS\n", "KINDS OF STEP\n"):
        assert heading in text
    assert text.count('step with verb = "wash"') == 1
    assert max(map(len, text.splitlines())) <= 96


def test_one_document_is_printed_alone():
    text = printed("readings")
    assert "READINGS" in text
    assert "EXERCISE\n" not in text


def test_json_is_one_schema_or_three():
    assert set(json.loads(printed("--json"))) == {"exercise", "plan", "readings"}
    schema = json.loads(printed("plan", "--json"))
    assert schema["properties"]["document"] == {"const": "plan"}


def test_an_unknown_document_is_refused():
    with pytest.raises(CommandError, match="invalid choice"):
        printed("recipe")
