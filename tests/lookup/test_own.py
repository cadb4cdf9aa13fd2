"""What was looked up becomes a substance of the exercise, and says what it still lacks."""

from workups.chemistry.substances import PROPERTIES
from workups.documents.substance_checks import check_substance
from workups.lookup import Found, look_up, own_substance, still_to_say
from workups.lookup.own import free_key


def made(text: str, taken: frozenset[str] = frozenset()):
    found = look_up(text)
    assert isinstance(found, Found)
    return own_substance(found, taken)


def test_a_neutral_substance_comes_with_all_its_values_and_their_sources() -> None:
    """Tetralin: 132.20 g/mol, boils at 207.6 C (CRC Handbook); the handbook is named."""
    own = made("tetralin")
    assert own.key == "1_2_3_4_tetrahydronaphthalene" or own.key.startswith("tetra")
    assert own.values.keys() <= PROPERTIES.keys()
    assert list(check_substance(own, None)) == []
    assert " " in own.values["boiling_point"].source


def test_estimates_keep_their_uncertainty() -> None:
    own = made("CCCCCCOc1ccc(Cl)cc1")
    assert own.values["log_kow"].uncertainty == 0.55
    assert own.partition["diethyl_ether"].uncertainty >= 0.55
    assert own.partition["diethyl_ether"].note.startswith("estimate")


def test_an_acid_comes_with_the_pKa_of_its_class_and_is_asked_for_its_own() -> None:
    own = made("4-fluorobenzoic acid")
    assert list(check_substance(own, None)) == []
    assert own.values["pKa1"].note == "estimate by class: acid on an aromatic ring"
    assert "from memory" in own.values["pKa1"].source
    assert any("measured pKa in place of" in line for line in still_to_say(own))
    assert any("hazard statements" in line for line in still_to_say(own))


def test_an_acid_that_no_class_tells_of_is_refused_until_its_pKa_is_given() -> None:
    """Ethylenediaminetetraacetic acid: six groups."""
    own = made("OC(=O)CN(CCN(CC(O)=O)CC(O)=O)CC(O)=O")
    assert [path for path, _ in check_substance(own, None)] == [("values", "pKa1")]
    assert "4 pKa values: carboxylic acid" in still_to_say(own)


def test_another_acidic_group_puts_it_in_the_class_that_asks_for_a_pKa() -> None:
    own = made("1-butanethiol")
    assert "ionisable" in own.classes
    assert own.values["pKa1"].value > 9


def test_a_key_in_use_is_not_given_twice() -> None:
    assert free_key("Tetralin", {"tetralin", "tetralin_2"}) == "tetralin_3"
