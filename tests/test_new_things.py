"""A new check, rule, setting, solution, solvent or drying agent is added where the guide says, and
arrives everywhere.

The package is copied, things are added in the copy, and another process walks it. The solvent and
the agent are known ones under another name, so an exercise with them has to come out the same.
"""

import csv
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
DATA = "workups/chemistry/data"

# By file and what it is put before (nothing: at the end).
WRITTEN = {
    ("workups/exercise/exercise.py", '    "reagent_table": ("Reagent table"'): """\
    "tidiness": ("Tidiness", 5.0),
""",
    ("workups/exercise/settings.py", '    "brine": Setting('): """\
    "wiping": Setting("Wiping the bench", "free", ("free", "expected")),
""",
    ("workups/grading/rules/bookkeeping.py", ""): '''

@rule("bench-not-wiped", check="tidiness")
def bench_not_wiped(case: Case) -> Iterator[Breach]:
    if case.exercise.choice("wiping") == "expected":
        step = case.plan.steps[-1]
        yield Breach(step.id, Remark(
            Strength.ADVICE, *say("bench-not-wiped", step=step.id), score_loss=0.5))
''',
    ("workups/grading/rules/texts/bookkeeping.toml", ""): '''
[bench-not-wiped]
title = "The bench is not wiped"
source = "invented"
text = "A wet bench makes flasks heavier."
message = "The bench is wet at {step}."
change = "Wipe it."
''',
}
SOLVENT, AGENT = "wedelia_ether", "larkmoor_chloride"
RENAMED = {"diethyl_ether": SOLVENT, "calcium_chloride": AGENT}
KEYED = ("key", "substance", "solvent", "agent")
SOLUTION = {"key": "brine_weak", "name": "weak brine", "density_g_mL": "1.02",
            "density_uncertainty": "0.005", "components": "sodium:0.55;chloride:0.55",
            "how_to_make": "a tenth of brine", "cautions": "", "source": "laliberte_2009",
            "grade": "A", "note": ""}

WALK = '''
import json
import django
django.setup()
from workups.chemistry.plan import Add, START_FLASK
from workups.documents import library_text, load_exercise
from workups.documents.schema import document_schema
from workups.exercise.exercise import Exercise, Rubric
from workups.grading.assess import assess
from workups.grading.finding_titles import finding_title
from workups.models.review import CHECK_CHOICES
from workups.selectors.method import rule_groups
from workups.stock.stock import stock_for_one
from workups.web.authoring.form.choices import setting_rows, with_all_settings
from workups.web.authoring.form.choices import material_groups
from workups.web.authoring.form.page import groups_of, opened
from workups.web.authoring.form.parts import BY_SLUG
from workups.documents.toml_text import parse
from workups.words.sentences import step_sentence

text = library_text("plain-ether")
told = {}
wiped = text.replace('[rubric.points]', '[rubric.points]\\ntidiness = 5', 1)
wiped += '\\n[[choice]]\\nkey = "wiping"\\nvalue = "expected"\\nreason = ""\\n'
exercise = load_exercise(wiped)
found = {c.name: c for c in assess(exercise, draws=4).checks}["tidiness"]
told["check"] = [found.points, found.out_of, [f.code for f in found.findings]]
told["check elsewhere"] = [Rubric().points["tidiness"], dict(CHECK_CHOICES)["tidiness"]]
told["check unasked"] = [c.out_of for c in assess(
    load_exercise(text), draws=4).checks if c.name == "tidiness"]
told["rule"] = [finding_title("bench-not-wiped"), *(
    p.paragraphs for g in rule_groups() if g.title == "Tidiness" for p in g.pages)]
told["form"] = [a.label for slug in BY_SLUG for g in groups_of(
    BY_SLUG[slug], opened(BY_SLUG[slug], parse(wiped))) for a in g.all_fields
    if a.path[-1] == "tidiness"]
told["setting"] = [s.title for s, _, _ in setting_rows(with_all_settings(parse(text)))][:1]
told["schema"] = [line.key for table in document_schema("exercise")
                  for line in table.keys if "wiping" in line.value]
told["offered"] = [key for _, choices in material_groups({}, None) for key, _ in choices
                   if key in %(new)s]
plain = load_exercise(text.replace('materials = [', 'materials = ["brine_weak",', 1))
step = Add(id="more", flask=START_FLASK, material="brine_weak", volume_mL=5.0)
plan = plain.model_plan.inserting(0, step)
told["solution"] = [step_sentence(step, plain), assess(plain, plan, draws=2).checks[0].name]

def came_out(text):
    exercise = load_exercise(text)
    found = assess(exercise, draws=1)
    return [[e.target, round(e.plan_band.nominal, 9)] for e in found.expected], [
        [c.name, c.points] for c in found.checks], sorted(
        n.key for n in stock_for_one(exercise).needs)

told["same"] = []
for old, new in %(renamed)r.items():
    before, after = came_out(text), came_out(text.replace(f'"{old}"', f'"{new}"'))
    told["same"].append([before[:2] == after[:2], old in before[2], new in after[2]])
print(json.dumps(told))
'''


def _added_in(there: Path) -> None:
    for (name, before), text in WRITTEN.items():
        path = there / name
        stands = path.read_text(encoding="utf-8")
        assert not before or stands.count(before) == 1, (name, before)
        path.write_text(stands.replace(before, text + before, 1) if before else stands + text,
                        encoding="utf-8")
    for path in sorted((there / DATA).glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        more = [row | {key: RENAMED[row[key]]} for row in rows for key in KEYED
                if row.get(key) in RENAMED]
        more += [SOLUTION] if path.name == "bench_solutions.csv" else []
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows([*rows, *more])


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    there = tmp_path_factory.mktemp("copy")
    for package in ("workups", "labcourse"):
        shutil.copytree(ROOT / package, there / package,
                        ignore=shutil.ignore_patterns("__pycache__", "migrations"))
    _added_in(there)
    environment = {**os.environ, "PYTHONPATH": str(there),
                   "DJANGO_SETTINGS_MODULE": "labcourse.settings"}
    walk = WALK % {"new": ["brine_weak", SOLVENT, AGENT], "renamed": RENAMED}
    done = subprocess.run([sys.executable, "-c", walk], env=environment, cwd=there,
                          capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_a_check_is_one_line_and_has_its_points_where_an_exercise_gives_any(told):
    assert told["check"] == [2.5, 5.0, ["bench-not-wiped"]]
    assert told["check unasked"] == [0.0]
    assert told["check elsewhere"] == [5.0, "Tidiness"]
    assert told["form"] == ["Tidiness"]


def test_a_rule_is_one_function_and_has_its_help_page_under_its_check(told):
    assert told["rule"] == ["The bench is not wiped", ["A wet bench makes flasks heavier."]]


def test_a_setting_is_one_line_and_authors_are_asked_for_it(told):
    assert told["setting"] == ["Wiping the bench"]
    assert told["schema"] == ["key"]


def test_what_stands_in_the_tables_alone_is_offered(told):
    assert told["offered"] == [SOLVENT, "brine_weak", AGENT]


def test_a_solution_of_the_tables_is_poured(told):
    assert told["solution"][0].startswith("Add 5")
    assert "weak brine" in told["solution"][0]


def test_a_solvent_and_an_agent_of_the_tables_do_as_their_likes_do(told):
    """The same points and masses for an exercise with them, and the stockroom puts them out."""
    assert told["same"] == [[True, True, True], [True, True, True]]
