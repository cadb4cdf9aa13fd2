"""A new field is one declaration in one file: file, schema, form, differences, stored data follow.

The package is copied, fields are declared in the copy, and another process walks it.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

# By the file and the field before which it is declared: the one change that is made.
DECLARED = {
    ("workups/chemistry/setup.py", "    funnel_mL: float = field("): """
    beaker_mL: float = field(default=100.0, metadata=declared(
        "Beaker", "capacity of the beaker", low=10, high=2000, unit="mL"))
""",
    ("workups/chemistry/setup.py", "    start_phase: str = field("): """
    weather: str = field(default="dry", metadata=one_of(
        "Weather", "the weather that is reckoned with", {"dry": "a dry day", "wet": "rain"}))
""",
    ("workups/chemistry/setup.py", "    purity: float = field("): """
    bottle: str = field(default="", metadata=line("Bottle", "the bottle it comes from"))
""",
    ("workups/exercise/exercise.py", '    background: str = field('): """
    history: str = field(default="", metadata=prose("History", "where the exercise comes from"))
""",
    ("workups/exercise/exercise.py", "@dataclass(frozen=True)\nclass Texts:"): """
@dataclass(frozen=True)
class Helper:
    \"\"\"Whoever may be asked.\"\"\"

    name: str = field(metadata=line("Who", "name of whoever may be asked", filled=True))
    room: int = field(default=1, metadata=declared("Room", "room number", low=1, high=99))


""",
    ("workups/exercise/exercise.py", "    emergency: str = field("): """
    helpers: tuple[Helper, ...] = field(default=(), metadata=declared(
        "Helpers", "whoever may be asked", written="helper", max_items=9))
""",
    ("workups/chemistry/readings.py", "    flask_number: str = field("): """
    humidity: float | None = field(default=None, metadata=declared(
        help="relative humidity beside the balance", low=0, high=100, unit="%"))
""",
}

WALK = '''
import dataclasses, json
import django
django.setup()
from workups.chemistry.readings import Readings, TargetReadings, Weighing
from workups.documents import (
    DocumentError, dump_exercise, dump_readings, library_text, load_exercise, load_readings,
    readings_from_data, readings_to_data)
from workups.documents.differences import differences
from workups.documents.schema import document_schema, json_schema
from workups.documents.toml_text import parse, write_data
from workups.documents.lenient import read_leniently
from workups.web.authoring.form.page import PartForm, groups_of, opened, put_texts, texts_in
from workups.web.authoring.form.parts import BY_SLUG, Rows

TYPED = {"glassware-beaker_mL": "250", "weather": "wet", "texts-history": "Long ago.",
         "reaction-reagent-1-bottle": "No. 7"}
before = load_exercise(library_text("too-much-vinegar"))
data = parse(library_text("too-much-vinegar"))
told = {"form": {}}
for slug in ("bench", "exercise", "texts", "reaction"):
    part = BY_SLUG[slug]
    asked = [a for g in groups_of(part, opened(part, data)) for a in g.all_fields]
    form = PartForm(asked, texts_in(asked, data), data)
    for name in TYPED.keys() & form.fields.keys():
        field = form.fields[name]
        told["form"][name] = [str(field.label), field.help_text, form[name].value(),
                              [c[1] for c in getattr(field.widget, "choices", ())]]
    put_texts(asked, texts_in(asked, data) | {
        name: typed for name, typed in TYPED.items() if name in form.fields}, data)
after = load_exercise(write_data(data))
told["file"] = load_exercise(dump_exercise(after)) == after != before
told["differences"] = [d.sentence.replace("\\xa0", " ") for d in differences(before, after)]
told["old file"] = before.setup.glassware.beaker_mL
parts = BY_SLUG["texts"]
told["lists"] = [[b.title, ".".join(b.path), list(b.fields)] for b in parts.blocks
                 if isinstance(b, Rows)]
helped = data | {"texts": data["texts"] | {"helper": [{"name": "Jo"}]}}
told["rows"] = [[a.name, a.label] for g in groups_of(parts, opened(parts, helped))
                for a in g.all_fields if "helper" in a.path]
told["helped"] = [d.sentence for d in differences(after, load_exercise(write_data(helped)))]
helped["texts"]["helper"][0]["room"] = 7
one, two = (load_exercise(write_data(x)) for x in (helped, helped | {"texts": helped["texts"] | {
    "helper": [{"name": "Jo", "room": 8}]}}))
told["helped"] += [d.sentence for d in differences(one, two)]
data["glassware"]["beaker_mL"] = 5000
data["weather"] = "wett"
usable = read_leniently(write_data(data))
told["usable"] = [usable.steps == usable.of_steps, usable.exercise.setup.weather]
try:
    load_exercise(write_data(data))
except DocumentError as error:
    told["problems"] = [str(p) for p in error.problems]
told["schema"] = [
    [line.key, line.value, line.default, line.help] for table in (
        *document_schema("exercise"), *document_schema("readings"))
    for line in table.keys if line.key in ("beaker_mL", "weather", "history", "humidity", "bottle")]
told["json schema"] = json_schema("exercise")["$defs"]["Glassware"]["properties"]["beaker_mL"]
record = Readings(targets={"hexyl_acetate": TargetReadings((Weighing("tare", 58.3, humidity=40),))})
stored = json.loads(json.dumps(readings_to_data(record)))
told["stored"] = [readings_from_data(stored) == record == load_readings(dump_readings(record)),
                  stored["target"]["hexyl_acetate"]["weighing"][0].pop("humidity"),
                  readings_from_data(stored).targets["hexyl_acetate"].weighings[0].humidity]
print(json.dumps(told))
'''


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    there = tmp_path_factory.mktemp("copy")
    for package in ("workups", "labcourse"):
        shutil.copytree(ROOT / package, there / package,
                        ignore=shutil.ignore_patterns("__pycache__", "migrations"))
    for (name, before), declaration in DECLARED.items():
        path = there / name
        text = path.read_text(encoding="utf-8")
        assert text.count(before) == 1, (name, before)
        path.write_text(text.replace(before, declaration.lstrip("\n") + before), encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(there),
                   "DJANGO_SETTINGS_MODULE": "labcourse.settings"}
    done = subprocess.run([sys.executable, "-c", WALK], env=environment, cwd=there,
                          capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_it_is_read_and_written_in_files_and_old_files_still_fit(told):
    assert told["file"] is True
    assert told["old file"] == 100.0


def test_its_bounds_and_choices_are_kept_in_words(told):
    assert sorted(p.partition(": ")[2] for p in told["problems"]) == [
        "glassware.beaker_mL: expected a number from 10 to 2000 mL, found 5000",
        'weather: expected one of dry, wet, found "wett" (did you mean "wet"?)',
    ]


def test_while_it_is_wrong_the_rest_can_be_carried_out(told):
    assert told["usable"] == [True, "dry"]


def test_it_stands_in_both_schemas(told):
    assert told["schema"] == [
        ["weather", "one of dry, wet", '"dry"', "the weather that is reckoned with"],
        ["bottle", "a text on one line", '""', "the bottle it comes from"],
        ["beaker_mL", "a number from 10 to 2000 mL", "100", "capacity of the beaker"],
        ["history", "a text", '""', "where the exercise comes from"],
        ["humidity", "a number from 0 to 100 %", "", "relative humidity beside the balance"],
    ]
    assert told["json schema"] == {
        "description": "capacity of the beaker", "type": "number", "minimum": 10, "maximum": 2000}


def test_authors_are_asked_for_it(told):
    assert told["form"] == {
        "glassware-beaker_mL": ["Beaker, mL", "Capacity of the beaker.", "100", []],
        "weather": ["Weather", "", "dry", ["a dry day", "rain"]],
        "texts-history": ["History", "Where the exercise comes from.", "", []],
        "reaction-reagent-1-bottle": ["Bottle", "The bottle it comes from.", "", []],
    }


def test_a_change_of_it_is_told(told):
    assert told["differences"] == [
        "History: rewritten.",
        "1-hexanol, bottle: “No. 7” instead of nothing.",
        "Beaker: 250 mL instead of 100 mL.",
        "Weather: rain instead of a dry day.",
    ]


def test_a_list_of_tables_has_its_rows_and_each_row_its_sentence(told):
    assert told["lists"] == [["Helpers", "texts.helper", ["name", "room"]]]
    assert told["rows"] == [["texts-helper-1-name", "Who"], ["texts-helper-1-room", "Room"]]
    assert told["helped"] == ["Helpers, new: Jo.", "Jo, room: 8 instead of 7."]


def test_it_is_stored_and_read_back_and_what_was_stored_before_still_is(told):
    assert told["stored"] == [True, 40.0, None]
