"""Substances that an exercise brings along: read, refused with a place and a reason, compared."""

import pytest

from tests.chemistry.own_substances import FILE
from tests.documents.test_error_messages import problems
from workups.chemistry.substances import PROPERTIES
from workups.chemistry.tables import tables
from workups.documents import dump_exercise, load_exercise
from workups.documents.differences import differences
from workups.explanation.values_used import values_used
from workups.explanation.worked import worked_chapters

TEXT = FILE.read_text(encoding="utf-8")
PKA = TEXT[TEXT.index("[substance.values.pKa1]") : TEXT.index("[substance.values.log_kow]")]


def test_the_properties_of_own_substances_are_those_of_the_tables():
    for substance in tables().substances.values():
        for name, value in substance.values.items():
            if name in PROPERTIES:
                known = PROPERTIES[name]
                assert value.unit == known.unit
                assert known.low <= value.value <= known.high, (substance.key, name)


def test_a_file_with_an_own_substance_comes_back_as_it_was():
    exercise = load_exercise(TEXT)
    assert load_exercise(dump_exercise(exercise)) == exercise


@pytest.mark.parametrize(
    ("old", "new", "where", "message"),
    [
        (PKA, "", "substance[1].values.pKa1",
         "is missing: expected the pKa, because it is listed under carboxylic acid"),
        ('key = "4_fluorobenzoic_acid"', 'key = "benzoic_acid"', "substance[1].key",
         '"benzoic_acid" is in the tables already'),
        ("value = 4.14", "value = 414", "substance[1].values.pKa1.value",
         "expected a pKa from -10 to 25, found 414"),
        ('unit = "g/L"', 'unit = "mg/L"', "substance[1].values.water_solubility.unit",
         'expected "g/L", found "mg/L"'),
        ("[substance.values.melting_point]", "[substance.values.melts]",
         "substance[1].values.melts", 'found "melts"'),
        ("log10_K.ethyl_acetate", "log10_K.brine", "substance[1].log10_K.brine",
         "expected an extraction solvent of the tables"),
        ('"carboxylic_acid", "arene"', '"acid"', "substance[1].classes[1]", 'found "acid"'),
        ('"H315"', '"irritant"', "substance[1].hazards[1]", "expected a hazard statement"),
        ("mass_g = 1.0", "volume_mL = 1.0", "substance[1].values.density",
         "is missing: expected the density, because a volume of it is charged"),
        ("charge_top = 0", "charge_top = 2", "substance[1].charge_top", "expected at most 1"),
    ])
def test_a_mistake_in_an_own_substance_is_named(old, new, where, message):
    assert old in TEXT
    found = problems(load_exercise, TEXT.replace(old, new, 1))
    named = [p for p in found if p.where == where]
    assert named, found
    assert message in named[0].message
    assert named[0].line > 0


def test_a_change_of_an_own_substance_is_told_in_words():
    before = load_exercise(TEXT)
    after = load_exercise(TEXT.replace("value = 4.14", "value = 4.2"))
    said = [d.sentence.replace("\u00a0", " ") for d in differences(before, after)]
    assert said == ["4-fluorobenzoic acid, pKa: 4.2 instead of 4.14."]


def test_its_values_are_listed_and_worked_with_under_its_name():
    exercise = load_exercise(TEXT)
    used = {(v.of, v.what): v for v in values_used(exercise)}
    pKa = used["4-fluorobenzoic acid", "pKa"]
    assert (pKa.quantity.value, pKa.source, pKa.is_checked) == (
        4.14, "recalled from handbooks", False)
    assert any("4-fluorobenzoic acid" in line.about.lower()
               for chapter in worked_chapters(exercise) for line in chapter.lines)
