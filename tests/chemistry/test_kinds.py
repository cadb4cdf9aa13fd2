"""What is an acid, a base, a carbonate, a brine: told from what a bottle or a vessel holds."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import workups
from workups.chemistry.draws import Draws
from workups.chemistry.inventory import build_inventory
from workups.chemistry.kinds import (
    REDUCTANTS,
    Bottle,
    Contents,
    bottle,
    charge_at,
    is_halogenated,
    is_more_acid,
    needs_brine,
)
from workups.chemistry.quantity import Quantity
from workups.chemistry.redox import OXIDANT
from workups.chemistry.setup import OwnMaterial, Reaction, Setup
from workups.chemistry.substances import Substance
from workups.chemistry.tables import tables

# Made by the instructor: mmol per mL of each component.
OWN = {
    "citric acid 10 %": {"citric_acid": 0.54},
    "acetic acid 10 %": {"acetic_acid": 1.7},
    "phosphoric acid 1 M": {"phosphate": 1.0},
    "hydrogensulfate 1 M": {"potassium": 1.0, "sulfate": 1.0},
    "tosic acid 0.1 M": {"p_toluenesulfonic_acid": 0.1},
    "lithium hydroxide 1 M": {"lithium": 1.0},
    "hydroxide with salt": {"sodium": 3.0, "chloride": 2.0},
    "potassium hydrogencarbonate": {"potassium": 1.0, "carbon_dioxide": 1.0},
    "trisodium phosphate": {"sodium": 1.5, "phosphate": 0.5},
    "soda water": {"carbon_dioxide": 0.03},
    "ammonium sulfate": {"ammonia": 4.0, "sulfate": 2.0},
    "sodium bromide": {"sodium": 4.0, "bromide": 4.0},
    "sodium sulfate 30 %": {"sodium": 3.6, "sulfate": 1.8},
    "bleach with lye": {"sodium": 1.3, "chloride": 0.6, "hypochlorous_acid": 0.6},
    "sulfite": {"sodium": 1.6, "sulfur_dioxide": 0.8},
}
SETUP = Setup(Reaction(()), (), (), tuple(OwnMaterial(k, k, 1.05, v) for k, v in OWN.items()))
# Every bottle, ours and theirs, by what a chemist calls it (by hand, from the label).
KINDS = {
    "is_acid": {"hcl_0_5m", "hcl_1m", "hcl_2m", "hcl_3m", "hcl_6m", "hcl_conc", "h2so4_1m",
                "h2so4_3m", "h2so4_conc", "h3po4_1m", "acetic_acid_1m", "citric_acid_10pct",
                "citric acid 10 %", "acetic acid 10 %", "phosphoric acid 1 M",
                "hydrogensulfate 1 M", "tosic acid 0.1 M"},
    "is_strong_base": {"naoh_0_5m", "naoh_1m", "naoh_2m", "naoh_3m", "naoh_6m", "koh_1m", "koh_3m",
                       "lioh_1m", "lithium hydroxide 1 M",
                       "hydroxide with salt", "bleach with lye"},
    "is_carbonate": {"nahco3_5pct", "nahco3_sat", "na2co3_5pct", "na2co3_10pct", "na2co3_sat",
                     "k2co3_10pct", "k2co3_20pct",
                     "potassium hydrogencarbonate"},
    "is_ammonium": {"nh4cl_sat", "nh4cl_10pct", "ammonium sulfate"},
    "is_brine": {"brine", "nacl_half_sat", "licl_10pct", "cacl2_20pct", "sodium bromide",
                 "sodium sulfate 30 %"},
    "oxidises": {"bleach_8_25pct", "bleach with lye"},
    "reduces": {"nahso3_10pct", "nahso3_20pct", "na2so3_10pct", "na2s2o3_5pct", "na2s2o3_10pct",
                "sulfite"},
}
# Acetate and hydrogenphosphate take acid up at pH 9.
OTHER_BASES = {"nh3_2m", "nh3_conc", "trisodium phosphate", "naoac_10pct", "na2hpo4_5pct"}


def bottles() -> list[Bottle]:
    return [bottle(key, SETUP) for key in (*tables().solutions, *OWN)]


@pytest.mark.parametrize("kind", KINDS)
def test_every_bottle_is_what_a_chemist_calls_it(kind: str) -> None:
    assert {b.key for b in bottles() if getattr(b, kind)} == KINDS[kind]


def test_bases_are_hydroxides_carbonates_and_a_few_others_but_not_bleach() -> None:
    expected = (KINDS["is_strong_base"] | KINDS["is_carbonate"] | OTHER_BASES) - KINDS["oxidises"]
    assert {b.key for b in bottles() if b.is_base} == expected


@pytest.mark.parametrize(("key", "pH"), [
    # Strong acid and base: -log c and 14 + log c. Weak acid: (pKa - log c)/2; ampholyte: mean of
    # the two pKa. By hand with acetic acid 4.76, carbonic acid 6.35 and 10.33.
    ("hcl_1m", 0.0), ("naoh_1m", 14.0), ("acetic acid 10 %", 2.26), ("nahco3_5pct", 8.34),
    ("water", 7.0), ("brine", 7.0),
])
def test_a_bottles_own_pH(key: str, pH: float) -> None:
    assert bottle(key, SETUP).pH == pytest.approx(pH, abs=0.02)


def test_the_own_pH_follows_the_exercises_own_constant() -> None:
    weaker = replace(SETUP, values={"pKa1:acetic_acid": Quantity(6.76, "1", 0.1, "t", "P")})
    assert bottle("acetic acid 10 %", weaker).pH == pytest.approx(3.26, abs=0.02)


def test_the_exercises_own_material_comes_before_a_bottle_of_the_same_key() -> None:
    setup = Setup(Reaction(()), (), (), (OwnMaterial("brine", "no brine", 1.0, {"chloride": 1.0}),))
    assert bottle("brine", setup).is_acid
    assert not bottle("brine", setup).is_brine


def test_neat_liquids_are_bottles_too() -> None:
    assert bottle("acetic_acid", SETUP).is_acid
    assert bottle("triethylamine", SETUP).is_base
    assert bottle("toluene", SETUP).is_solvent


INV = build_inventory(
    Setup(Reaction(()), (), tuple(tables().solutions), SETUP.own_materials), tables(), Draws(1, 3))


def poured(**mmol: float) -> np.ndarray:
    amounts = INV.none()
    for key, value in {"water": 1100.0, **mmol}.items():
        amounts[INV.index[key]] = value
    return amounts


def test_charge_at_a_pH_is_that_of_the_textbook() -> None:
    # Half of acetic acid is acetate at its pKa; at pH 7 nearly all.
    pKa = tables().substances["acetic_acid"].pKa[0].value
    assert charge_at(INV.nominal, poured(acetic_acid=10.0)[:, :1], pKa) == pytest.approx(-5.0)
    assert Contents(INV, poured(chloride=4.0, sodium=1.0)).acid_mmol == pytest.approx(3.0)


def test_more_acid_than_a_pH_is_below_it() -> None:
    # Dihydrogenphosphate, 4.7, lies between 3 and 7; ammonia above 9.
    phosphate, ammonia = poured(sodium=20.0, phosphate=20.0), poured(ammonia=20.0)
    assert is_more_acid(INV, phosphate, 7.0).all()
    assert not is_more_acid(INV, phosphate, 3.0).any()
    assert not is_more_acid(INV, ammonia, 9.0).any()


def test_hypochlorite_is_chlorine_in_acid_and_not_in_base() -> None:
    """[Cl2]/[HOCl] = [H+][Cl-]/3.2e-4; 20 mmol of strong acid in 20 mL is pH 0."""
    acid = Contents(INV, poured(hypochlorous_acid=10.0, sodium=10.0, chloride=30.0))
    assert acid.pH == pytest.approx(0.0, abs=0.1)
    assert acid.chlorine_mmol > 9.9
    base = Contents(INV, poured(hypochlorous_acid=10.0, sodium=20.0, chloride=10.0))
    assert base.chlorine_mmol < 1e-3
    # At pH 5 and 0.5 M of chloride: 1e-5 * 0.5 / 3.2e-4 = 1.6 %.
    weak = Contents(INV, poured(hypochlorous_acid=10.0, sodium=36.4, chloride=10.0,
                                acetic_acid=41.0))
    assert weak.pH == pytest.approx(5.0, abs=0.1)
    assert weak.chlorine_mmol / 10.0 == pytest.approx(0.016, rel=0.4)


def test_reducing_agents_make_up_for_hypochlorite() -> None:
    mixed = Contents(INV, poured(hypochlorous_acid=10.0, sulfur_dioxide=4.0, thiosulfate=3.0))
    assert mixed.oxidant_mmol == pytest.approx(3.0)


def test_halogen_in_an_organic_structure_counts_and_a_chloride_ion_does_not() -> None:
    known = tables().substances
    assert is_halogenated(known["1_bromobutane"])
    assert is_halogenated(known["4_chlorobenzoic_acid"])
    assert is_halogenated(known["trifluoroacetic_acid"])
    assert not is_halogenated(known["hypochlorous_acid"])
    salt = Substance("salt", "a hydrochloride", 100.0, "t", "P", smiles="CC[NH3+].[Cl-]")
    assert not is_halogenated(salt)
    named = Substance("own", "own", 100.0, "t", "P", classes=frozenset({"alkyl_halide"}))
    assert is_halogenated(named)


def test_brine_is_for_solvents_that_hold_much_water() -> None:
    # Trade practice: ethers and acetates; not for chlorinated solvents and hydrocarbons.
    wet = {s for s in tables().solvents if needs_brine({s: 1.0}, tables())}
    assert wet == {"diethyl_ether", "mtbe", "ethyl_acetate", "2_methyltetrahydrofuran",
                   "diisopropyl_ether", "butyl_acetate"}
    assert not needs_brine({"hexane": 9.0, "ethyl_acetate": 1.0}, tables())
    assert not needs_brine({}, tables())


def test_no_other_place_decides_a_kind_by_the_names_of_components() -> None:
    """Outside the chemistry nobody names an ion, the oxidant or a reducing agent: they ask here.
    A picture may leave dissolved gas out."""
    root = Path(workups.__file__).parent
    named = {*tables().ions, *REDUCTANTS, OXIDANT, "carbon_dioxide"} - {"magnesium"}
    allowed = {"sheets/funnel.py"}
    found = {
        f"{path.relative_to(root)}: {node.value}"
        for path in root.rglob("*.py")
        if path.relative_to(root).parts[0] not in ("chemistry", "migrations")
        and path.relative_to(root).as_posix() not in allowed
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and node.value in named}
    assert found == set()
