"""What students read of a substance, an ion, a salt or a material is short and says what it is."""

import pytest

from workups.chemistry.tables import tables
from workups.documents import library_exercise
from workups.words.material_facts import material_name, material_word, substance_word

LONGEST = 45


def test_no_name_is_longer_than_a_line_of_a_table():
    known = tables()
    named = (known.substances, known.ions, known.salts, known.solutions, known.agents)
    names = [entry.name for table in named for entry in table.values()]
    assert [name for name in names if len(name) > LONGEST] == []
    assert [name for name in names if name.count("(") > 1 and "-" not in name] == []


def test_an_acid_is_called_by_its_name_and_its_salt_stands_in_brackets_only_in_mixtures():
    known = tables()
    assert substance_word("sulfate", known) == "sulfuric acid"
    assert substance_word("carbon_dioxide", known) == "carbon dioxide"
    assert known.substances["carbon_dioxide"].name == "carbon dioxide (and carbonate)"
    assert substance_word("thiosulfate", known) == "thiosulfate ion"


@pytest.mark.parametrize(
    ("key", "name", "word"),
    [
        ("bleach_8_25pct", "8.25 % sodium hypochlorite (bleach)", "bleach"),
        ("nahco3_5pct", "5 % sodium bicarbonate solution", "5 % sodium bicarbonate solution"),
        ("sieves_3a", "activated molecular sieves 3 Å", "activated molecular sieves 3 Å"),
    ],
)
def test_materials_read_as_they_stand_on_a_bottle(key, name, word):
    exercise = library_exercise("plain-ether")
    assert material_name(key, exercise) == name
    assert material_word(key, exercise) == word
