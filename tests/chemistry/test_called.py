"""What people type for what stands in the tables is found, and what is not there is not guessed."""

from __future__ import annotations

import pytest
from chemicals.identifiers import search_chemical

from workups.chemistry.called import also_called, key_called, material_called, meant, plain
from workups.chemistry.tables import tables
from workups.lookup.identity import FORMULA

TABLES = tables()
KEYS = {*TABLES.substances, *TABLES.salts, *TABLES.ions, *TABLES.solutions, *TABLES.agents}


def cas_of(key: str) -> str:
    entry = TABLES.substances.get(key) or TABLES.salts.get(key)
    return getattr(entry, "cas", "")


def test_every_alias_leads_to_something_of_the_tables() -> None:
    assert {key for key in also_called().values() if key not in KEYS} == set()


def test_no_alias_is_the_name_of_something_else() -> None:
    for called, key in also_called().items():
        assert key_called(called) == key


# Where the register of the test below means something else by a word than a bench does.
MEANT_OTHERWISE = {
    "hexanes": "one isomer", "Glauber's salt": "the decahydrate", "Epsom salt": "the heptahydrate",
    "petroleum spirit": "another cut", "petroleum ether": "benzene", "potash": "the oxide",
    "TEA": "tetraethylammonium", "xylene": "another isomer", "xylenes": "another isomer",
    "ammonium hydroxide": "its solution",
}


def test_an_alias_that_an_open_register_knows_is_the_same_substance_there() -> None:
    """The identifiers of the ``chemicals`` library, by CAS number.

    Formulas are left out: the register takes each for one of its isomers.
    """
    tried = 0
    for called, key in also_called().items():
        if FORMULA.fullmatch(called) or called in MEANT_OTHERWISE or not cas_of(key):
            continue
        try:
            theirs = search_chemical(called).CASs
        except ValueError:
            continue
        tried += 1
        assert theirs == cas_of(key), called
    assert tried > 20


@pytest.mark.parametrize(("typed", "key"), [
    ("EtOAc", "ethyl_acetate"), ("AcOEt", "ethyl_acetate"), ("DCM", "dichloromethane"),
    ("THF", "tetrahydrofuran"), ("MeCN", "acetonitrile"), ("NEt3", "triethylamine"),
    ("H₂SO₄", "sulfate"), ("Sulphuric acid", "sulfate"), ("glacial acetic acid", "acetic_acid"),
    ("tBuOMe", "mtbe"), ("HBr", "hydrogen_bromide"), ("7647-01-0", "hydrogen_chloride"),
    ("carbon tetrachloride", ""), ("", ""), ("isooctane", "2_2_4_trimethylpentane"),
    ("DCE", "1_2_dichloroethane"), ("xylenes", "p_xylene"), ("ligroin", "petroleum_ether_60_80"),
    ("MIBK", "methyl_isobutyl_ketone"), ("4-methylphenol", "p_cresol"), ("PABA",
    "4_aminobenzoic_acid"), ("acetaminophen", "paracetamol"), ("NMP", "n_methylpyrrolidone"),
])
def test_a_name_as_typed(typed: str, key: str) -> None:
    assert key_called(typed) == key


SOLUTIONS = sorted(TABLES.solutions)


@pytest.mark.parametrize(("typed", "key"), [
    ("conc. HCl", "hcl_conc"), ("10 % NaOH", "naoh_3m"), ("2,9 M NaOH", "naoh_3m"),
    ("sat. aq. NaHCO3", "nahco3_sat"), ("saturated NaCl", "brine"),
    ("half-saturated NaCl", "nacl_half_sat"), ("half-saturated brine", "nacl_half_sat"),
    ("1 N HCl", "hcl_1m"), ("sodium hydroxide solution, 6 M", "naoh_6m"),
    ("5% bicarb", "nahco3_5pct"), ("25 % NH3", "nh3_conc"), ("sulfuric", "h2so4_1m"),
    ("concentrated sulphuric acid", "h2so4_conc"), ("10 % sodium thiosulfate", "na2s2o3_10pct"),
    ("2 M HCl", "hcl_2m"), ("20 % K2CO3", "k2co3_20pct"), ("5 % thiosulfate", ""),
    ("10 % Na2SO3", "na2so3_10pct"), ("10 % citric acid", "citric_acid_10pct"),
    ("anisole", ""), ("x" * 500, ""), ("5 % sugar", ""),
])
def test_a_solution_by_what_is_in_it_and_how_strong(typed: str, key: str) -> None:
    """10 % NaOH is 2.77 mol/L and 25 % ammonia 13.4 mol/L (CRC Handbook, Concentrative
    Properties of Aqueous Solutions)."""
    assert (meant(typed, SOLUTIONS) or "") == key


def test_every_solution_is_found_by_its_own_name() -> None:
    for key, solution in TABLES.solutions.items():
        assert meant(solution.name, SOLUTIONS) == key
        assert meant(key, SOLUTIONS) == key


def test_only_what_is_offered_is_meant() -> None:
    assert material_called("conc. HCl", ("naoh_1m", "hcl_1m")) == "hcl_1m"
    assert meant("DCM", ("diethyl_ether", "water")) == ""
    assert meant("unobtainium", ("diethyl_ether", "water")) is None


def test_a_plain_name_stays_plain() -> None:
    for entry in TABLES.substances.values():
        assert plain(plain(entry.name)) == plain(entry.name)
