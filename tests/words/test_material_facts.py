"""Names, handling and hazard words of materials, from the shipped tables."""

import pytest

from workups.chemistry.plan import Plan
from workups.chemistry.setup import OwnMaterial, Reaction, Setup
from workups.chemistry.tables import tables
from workups.exercise.exercise import Exercise
from workups.words.material_facts import (
    hazard_codes,
    hazard_words,
    is_bulk,
    material_facts,
    material_name,
    material_word,
    substance_name,
)

EXERCISE = Exercise(
    "facts",
    "Facts",
    Setup(
        Reaction(()),
        (),
        (),
        own_materials=(
            OwnMaterial("brine", "half brine (own)", 1.1, {"sodium": 2.7, "chloride": 2.7}),
        ),
    ),
    Plan(()),
)


@pytest.mark.parametrize(
    ("key", "name", "word"),
    [
        ("mtbe", "methyl tert-butyl ether (MTBE)", "MTBE"),
        ("diethyl_ether", "diethyl ether", "diethyl ether"),
        ("nahco3_5pct", "5 % sodium bicarbonate solution", "5 % sodium bicarbonate solution"),
        ("hcl_3m", "3 M hydrochloric acid", "3 M hydrochloric acid"),
        ("magnesium_sulfate", "anhydrous magnesium sulfate", "anhydrous magnesium sulfate"),
        ("sieves_4a", "activated molecular sieves 4 Å", "activated molecular sieves 4 Å"),
        ("brine", "half brine (own)", "half brine (own)"),
        ("not_in_any_table", "not in any table", "not in any table"),
    ],
)
def test_materials_are_named_as_people_say_them(key: str, name: str, word: str) -> None:
    assert material_name(key, EXERCISE) == name
    assert material_word(key, EXERCISE) == word


def test_every_bench_solution_is_at_most_one_of_acid_base_and_carbonate() -> None:
    for key in tables().solutions:
        facts = material_facts(key, EXERCISE)
        assert facts.is_acid + facts.is_strong_base + facts.is_carbonate <= 1, key


def test_acids_bases_and_carbonates_are_told_by_their_ions() -> None:
    kinds: dict[str, set[str]] = {
        "is_acid": set(),
        "is_strong_base": set(),
        "is_carbonate": set(),
    }
    for key in tables().solutions:
        for kind, keys in kinds.items():
            if getattr(material_facts(key, EXERCISE), kind):
                keys.add(key)
    for kind, starts in {
        "is_acid": ("hcl", "h2so4", "h3po4", "acetic_acid", "citric_acid"),
        "is_strong_base": ("naoh", "koh", "lioh"),
        "is_carbonate": ("nahco3", "na2co3", "k2co3"),
    }.items():
        assert kinds[kind] == {key for key in tables().solutions if key.startswith(starts)}


def test_ether_is_flammable_and_forms_peroxides_and_dcm_is_halogenated() -> None:
    ether, dcm = (
        material_facts("diethyl_ether", EXERCISE),
        material_facts("dichloromethane", EXERCISE),
    )
    assert (ether.flammable, ether.forms_peroxides, ether.is_halogenated) == (True, True, False)
    assert (dcm.flammable, dcm.forms_peroxides, dcm.is_halogenated) == (False, False, True)


def test_every_hazard_statement_of_the_tables_has_a_word_or_is_known_to_need_none() -> None:
    needs_none = {"H280", "EUH066"}  # gas under pressure in its bottle; dry skin
    for substance in tables().substances.values():
        for code in set(substance.hazards) - needs_none:
            assert hazard_words([code]), f"{substance.key} {code}"


def test_hazard_words_come_gravest_first_and_once() -> None:
    assert hazard_words(["H315", "H319", "H226", "H314"]) == ("corrosive", "flammable", "irritant")
    assert hazard_words(hazard_codes("mtbe", tables())) == ("flammable", "irritant")


def test_water_solvents_and_ions_are_the_bulk_of_a_layer() -> None:
    assert all(is_bulk(key, tables()) for key in ("water", "mtbe", "sodium"))
    assert not is_bulk("acetic_acid", tables())


def test_substances_and_ions_have_plain_names() -> None:
    assert substance_name("acetic_acid", tables()) == "acetic acid"
    assert substance_name("sodium", tables()).startswith("sodium ion")
    assert substance_name("some_thing", tables()) == "some thing"
