"""Every mistake in a file gets one clear line: where, what was expected, what was found."""

import pytest

from workups.documents import (
    DocumentError,
    dump_exercise,
    library_exercise,
    library_text,
    load_exercise,
    load_plan,
    load_readings,
)

PLAN = """\
document = "plan"
version = 1
exercise = "too-much-vinegar"

[[step]]
verb = "cool"
id = "cool"
flask = "reaction flask"

# a comment
[[step]]
verb = "extract"
id = "extract"
flask = "reaction flask"
material = "mtbe"
volume_mL = 40
keep_in = "ether"
other_in = "water"
"""

READINGS = """\
document = "readings"
version = 1
exercise = "too-much-vinegar"

[reagents]
acetic_acid = 9.01

[target.hexyl_acetate]
[[target.hexyl_acetate.weighing]]
kind = "tare"
mass_g = 58.32
"""


def problems(load, text, *more):
    with pytest.raises(DocumentError) as caught:
        load(text, *more)
    return caught.value.problems


@pytest.mark.parametrize(
    ("old", "new", "where", "line", "message"),
    [
        ("volume_mL = 40", 'volume_mL = "lots"', "step[2].volume_mL", 16,
         'expected a number from 0.1 to 2000 mL, found "lots"'),
        ("volume_mL = 40", "volume_mL = 4000", "step[2].volume_mL", 16,
         "expected a number from 0.1 to 2000 mL, found 4000"),
        ("volume_mL = 40", "volume_mL = nan", "step[2].volume_mL", 16,
         "expected a number from 0.1 to 2000 mL, found nan"),
        ("volume_mL = 40", "volume_mL = true", "step[2].volume_mL", 16,
         "expected a number from 0.1 to 2000 mL, found true"),
        ("volume_mL = 40", f"volume_mL = 0x{'f' * 400}", "step[2].volume_mL", 16,
         "expected a number, found one of too many digits"),
        ("volume_mL = 40", "volume_ml = 40", "step[2].volume_ml", 16,
         'is not a key that belongs here (did you mean "volume_mL"?)'),
        ("volume_mL = 40\n", "", "step[2].volume_mL", 11,
         "is missing: expected a number from 0.1 to 2000 mL"),
        ("volume_mL = 40", "volume_mL = 40\nportions = 2.5", "step[2].portions", 17,
         "expected a whole number from 1 to 12, found 2.5"),
        ("volume_mL = 40", "volume_mL = 40\nvent = 1", "step[2].vent", 17,
         "expected true or false, found 1"),
        ("volume_mL = 40", 'volume_mL = 40\nkeep = "Upper"', "step[2].keep", 17,
         'expected one of upper, lower, found "Upper" (did you mean "upper"?)'),
        ('"mtbe"', '"mtbee"', "step[2].material", 15,
         'expected a solvent or solution, found "mtbee" (did you mean "mtbe"?)'),
        ('"mtbe"', '"magnesium_sulfate"', "step[2].material", 15,
         'expected a solvent or solution, found "magnesium_sulfate"'),
        ('"extract"', '"extrakt"', "step[2].verb", 12,
         'found "extrakt" (did you mean "extract"?)'),
        ('verb = "cool"\n', "", "step[1].verb", 5, "is missing: expected one of cool, quench"),
        ('id = "extract"', 'id = "cool"', "", 0, "step id used twice: cool"),
        ('id = "cool"', 'id = "co ol"', "step[1].id", 7,
         'expected a name of letters, digits, - and _, found "co ol"'),
        ('keep_in = "ether"', 'keep_in = " "', "step[2].keep_in", 17,
         "expected a flask, new or in use, found nothing"),
        ('keep_in = "ether"', 'keep_in = "a\\u0000b"', "step[2].keep_in", 17,
         "expected plain text on one line, found a control character"),
        ('keep_in = "ether"', f'keep_in = "{"e" * 61}"', "step[2].keep_in", 17,
         "expected at most 60 characters, found 61"),
        ('document = "plan"', 'document = "readings"', "document", 0,
         'expected "plan", found "readings"'),
        ('document = "plan"\n', "", "document", 0, 'is missing: expected document = "plan"'),
        ("version = 1", "version = 2", "version", 0, "expected 1, found 2"),
        ('"too-much-vinegar"', '"too-little"', "exercise", 3,
         'expected "too-much-vinegar", found "too-little"'),
        ("version = 1", "version = 1\nverison = 1", "verison", 3,
         'is not a key that belongs here (did you mean "version"?)'),
        ("volume_mL = 40", "volume_mL = ", "", 16, "is not valid TOML: "),
        ("volume_mL = 40", "volume_mL = 40\nvolume_mL = 41", "", 17, "is not valid TOML: "),
        ("volume_mL = 40", "volume_mL = 1979-05-27", "step[2].volume_mL", 16, "found a date"),
        ("[[step]]\nverb = \"cool\"", "[[steps]]\nverb = \"cool\"", "steps", 5,
         'is not a key that belongs here (did you mean "step"?)'),
    ])
def test_a_mistake_in_a_plan_is_named_with_its_place(old, new, where, line, message):
    text = PLAN.replace(old, new)
    assert text != PLAN
    found = problems(load_plan, text, library_exercise("too-much-vinegar"))
    assert (found[0].where, found[0].line) == (where, line)
    assert message in found[0].message


def test_all_problems_of_a_file_are_listed_in_the_order_of_its_lines():
    text = (PLAN.replace("volume_mL = 40", "volume_mL = -1").replace('"mtbe"', '"mtbee"')
            .replace('flask = "reaction flask"\n\n', "flask = 3\n\n"))
    found = problems(load_plan, text)
    assert [p.where for p in found] == ["step[1].flask", "step[2].material", "step[2].volume_mL"]
    assert [p.line for p in found] == [8, 15, 16]


def test_an_error_reads_as_one_line_a_problem():
    with pytest.raises(DocumentError) as caught:
        load_plan(PLAN.replace("= 40", '= "lots"').replace('"mtbe"', '"mtbee"'))
    assert str(caught.value).splitlines()[1] == (
        'line 16: step[2].volume_mL: expected a number from 0.1 to 2000 mL, found "lots"')
    assert caught.value.first_line.endswith('(did you mean "mtbe"?) (and 1 more)')


def test_at_most_fifty_problems_are_listed():
    steps = '[[step]]\nverb = "fly"\n' * 60
    found = problems(load_plan, f'document = "plan"\nversion = 1\n{steps}')
    assert len(found) == 50


def test_more_than_sixty_steps_are_refused():
    steps = "".join(f'[[step]]\nverb = "cool"\nid = "s{n}"\nflask = "reaction flask"\n'
                    for n in range(61))
    found = problems(load_plan, f'document = "plan"\nversion = 1\n{steps}')
    assert found[0].message == "expected at most 60 items, found 61"


@pytest.mark.parametrize(
    ("old", "new", "where", "line", "message"),
    [
        ("[target.hexyl_acetate]\n[[target.hexyl_acetate.weighing]]",
         "[target.hexyl_acetat]\n[[target.hexyl_acetat.weighing]]", "target.hexyl_acetat", 8,
         'expected a target of the exercise, found "hexyl_acetat" (did you mean'),
        ("acetic_acid", "acetic", "reagents.acetic", 6,
         'expected a line of the reagent table, found "acetic" (did you mean "acetic_acid"?)'),
        ('"tare"', '"tara"', "target.hexyl_acetate.weighing[1].kind", 10,
         'expected one of tare, gross, found "tara" (did you mean "tare"?)'),
        ("58.32", "-2000", "target.hexyl_acetate.weighing[1].mass_g", 11,
         "expected a number from -1000 to 10000 g, found -2000"),
        ("58.32", '58.32\non_pan = ["flask", "spoon"]',
         "target.hexyl_acetate.weighing[1].on_pan[2]", 12, 'found "spoon"'),
        ("[reagents]", '[[volume]]\nstep = "a"\nflask = "b"\n[reagents]', "volume[1].volume_mL", 5,
         "is missing: expected a number from 0 to 10000 mL"),
        ("[reagents]", '[[step]]\nmark = "done"\nverb = "cool"\nid = "c"\nflask = "f"\nto = 3\n'
         "[reagents]", "step[1].to", 10, 'is not a key that belongs here (did you mean "to_C"?)'),
    ])
def test_a_mistake_in_a_bench_record_is_named_with_its_place(old, new, where, line, message):
    text = READINGS.replace(old, new)
    found = problems(load_readings, text, library_exercise("too-much-vinegar"))
    assert (found[0].where, found[0].line) == (where, line)
    assert message in found[0].message


def test_an_entry_of_seen_volumes_is_not_accepted_twice():
    twice = '[[volume]]\nstep = "a"\nflask = "b"\nvolume_mL = 3\n' * 2
    found = problems(load_readings, f'document = "readings"\nversion = 1\n{twice}')
    assert found[0].where == "volume"
    assert found[0].message == "two entries have the same step and flask"


@pytest.mark.parametrize(
    ("old", "new", "where", "message"),
    [
        ("mass_g = 5.11", "mass_g = 5.11\nvolume_mL = 6.3", "reaction.reagent[1]",
         "expected exactly one of mass_g, volume_mL, amount_mmol, found mass_g and volume_mL"),
        ("mass_g = 5.11\n", "", "reaction.reagent[1]",
         "expected exactly one of mass_g, volume_mL, amount_mmol, found none"),
        ('"1_hexanol"\nrole', '"hexanol"\nrole', "reaction.reagent[1].substance",
         'expected a substance, salt or ion of the tables, found "hexanol" '
         '(did you mean "1_hexanol"?)'),
        ("low = 0.80", "low = 0.88", "reaction.conversion", "expected low <= nominal <= high"),
        ("high = 0.90", "high = 1.20", "reaction.conversion", "expected a share from 0 to 1"),
        ('"water", "mtbe", "brine"', '"water", "mtbe", "brin"', "materials[3]",
         'found "brin" (did you mean "brine"?)'),
        ('"water", "mtbe", "brine"', '"water", "mtbe", "brine", "brine"', "materials",
         "listed twice: brine"),
        ("recovery_goal = 0.95", "recovery_goal = 95", "target[1].recovery_goal",
         "expected a number from 0 to 1, found 95"),
        ('[[target]]\nsubstance = "hexyl_acetate"', '[[target]]\nsubstance = "butyl_acetate"',
         "target[1]", '"butyl_acetate" is neither charged nor made in the reaction'),
        ('grade = "B"', 'grade = "Q"', "slow_reaction[1].k_L_mol_s.grade",
         'expected one of A, B, P, found "Q"'),
        ("extraction = 20", "extracting = 20", "rubric.points.extracting",
         '(did you mean "extraction"?)'),
        ('agent = "magnesium_sulfate"', 'agent = "sieves_4a"', "model_plan.step[10].agent",
         '"sieves_4a" is not among the materials of this exercise'),
        ('flask = "acid washings"\nstream', 'flask = "acidic washings"\nstream',
         "model_plan.step[15].flask",
         'flask "acidic washings" does not exist at this point (did you mean "acid washings"?)'),
        ('detail = "all but the answer"', 'detail = "everything"', "policy.detail",
         "expected one of all but the answer, which checks, nothing"),
        ('key = "too-much-vinegar"', 'key = "Too much vinegar"', "key",
         "expected a name of lower-case letters and digits, words joined by -"),
        ('key = "brine"', 'key = "brin"', "choice[2].key", 'found "brin" (did you mean "brine"?)'),
        ('value = "expected"', 'value = "expeced"', "choice[2].value",
         'expected one of free, advised, expected, required, found "expeced" '
         '(did you mean "expected"?)'),
        ('value = "500"', 'value = "half a litre"', "choice[1].value",
         'expected a number from 20 to 5000 mL, found "half a litre"'),
        ('key = "brine"', 'key = "co2_limit_mL"', "choice[2].value",
         'expected a number from 20 to 5000 mL, found "expected"'),
    ])
def test_a_mistake_in_an_exercise_is_named(old, new, where, message):
    text = library_text("too-much-vinegar")
    assert old in text
    found = problems(load_exercise, text.replace(old, new, 1))
    assert found[0].where == where
    assert message in found[0].message
    assert found[0].line > 0


def test_a_setting_is_chosen_once():
    text = library_text("too-much-vinegar")
    twice = text.replace('key = "brine"\nvalue = "expected"', 'key = "co2_limit_mL"\nvalue = "300"')
    found = problems(load_exercise, twice)
    assert [p.message for p in found] == ['"co2_limit_mL" is chosen twice']


def test_a_route_of_an_exercise_has_steps():
    text = library_text("too-much-vinegar")
    for header, where in (("[model_plan]", "model_plan.step"), ("[[alternative]]",
                                                                "alternative[1].step")):
        steps = header.strip("[]")
        kept = text.partition(f"[[{steps}.step]]")[0].removesuffix("[[alternative]]\n\n")
        others = ('[[model_plan.step]]\nverb = "tare"\nid = "tare"\nflask = "vial"\n'
                  if steps == "alternative" else "")
        kept = kept.partition("[[model_plan.step]]")[0]
        found = problems(load_exercise, f"{kept}{others}{header}\nstep = []\n")
        assert found[0].where == where
        assert found[0].message == "expected at least one step, found none"


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("log10_K:acetic_acid", "expected log10_K:SUBSTANCE:SOLVENT"),
        ("log10_K:acetic_acid:water", '"water" is no solvent of the tables'),
        ("pKa1:acetic_acd", '"acetic_acd" is no substance of the tables (did you mean'),
    ])
def test_the_name_of_an_own_value_must_point_into_the_tables(name, message):
    quantity = 'value = 1.0\nunit = "1"\nuncertainty = 0.1\nsource = "own"\ngrade = "B"\n'
    text = library_text("too-much-vinegar") + f'\n[values."{name}"]\n{quantity}'
    found = problems(load_exercise, text)
    assert found[0].where == f'values."{name}"'
    assert message in found[0].message


def test_an_own_solution_may_be_used_by_plans_of_its_exercise_only():
    own = ('[[own_material]]\nkey = "licl_own"\nname = "LiCl of our own"\ndensity_g_mL = 1.03\n'
           "components = { lithium = 1.2, chloride = 1.2 }\n")
    exercise = load_exercise(library_text("too-much-vinegar") + "\n" + own)
    plan = PLAN.replace('"mtbe"', '"licl_own"')
    assert load_plan(plan, exercise).steps[1].material == "licl_own"
    assert problems(load_plan, plan)[0].where == "step[2].material"
    assert load_exercise(dump_exercise(exercise)) == exercise


def refused(text: str) -> tuple[str, str]:
    with pytest.raises(DocumentError) as error:
        load_exercise(text)
    [problem] = error.value.problems
    return problem.where, problem.message


def test_a_mixture_with_less_than_no_water_is_refused_where_it_is_written() -> None:
    """A dry salt said to take up water that nothing else brings."""
    dry = """[[reaction.reagent]]
substance = "sodium_chloride"
role = "dry salt"
coefficient = 0
amount_mmol = 50
composition = { sodium = 1, chloride = 1, water = -1 }

[[reaction.product]]"""
    text = library_text("slow-to-leave").replace("[[reaction.product]]", dry, 1)
    assert refused(text) == ("reaction.reagent", (
        "the mixture would hold -50 mmol of water: a composition takes up more than all reagents "
        "bring"))


def test_a_solution_that_weighs_less_than_what_is_dissolved_in_it_is_refused() -> None:
    """30 mol/L of salt, 1.75 g in a mL of 1.2 g."""
    own = """[[own_material]]
key = "thick"
name = "thick"
density_g_mL = 1.2
components = { sodium = 30, chloride = 30 }

[[target]]"""
    where, message = refused(library_text("slow-to-leave").replace("[[target]]", own, 1))
    assert where == "own_material[1].components"
    assert "1.75 g" in message
