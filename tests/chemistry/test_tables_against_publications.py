"""Tabulated values against figures read in publications, each with its source."""

from __future__ import annotations

import math

import pytest

from workups.chemistry.tables import tables

SUBSTANCES = tables().substances
# Measured log10 of the solubility in water [mol/L]: Delaney, J. Chem. Inf. Comput. Sci. 2004, 44,
# 1000 (https://doi.org/10.1021/ci034243x), the data its equation was fitted to; a public copy.
LOG_SOLUBILITY = {
    "1_butanol": 0.0, "1_pentanol": -0.6, "1_hexanol": -1.24, "1_octanol": -2.39,
    "p_cresol": -0.73, "1_naphthol": -2.22, "4_chlorophenol": -0.70, "n_methylaniline": -1.28,
    "n_n_dimethylaniline": -1.92, "benzophenone": -3.12, "cyclohexene": -2.59,
    "naphthalene": -3.6, "nitrobenzene": -1.8, "bromobenzene": -2.55, "aniline": -0.41,
    "benzyl_alcohol": -0.40, "acetanilide": -1.33, "anisole": -1.85,
    "ethyl_benzoate": -2.32, "methyl_benzoate": -1.85, "acetophenone": -1.28,
    "benzaldehyde": -1.19, "biphenyl": -4.345, "fluorene": -5.0, "ethyl_4_aminobenzoate": -2.616,
    "2_naphthol": -2.28, "diphenylmethanol": -2.55, "caffeine": -0.876, "4_nitrotoluene": -2.49,
    "4_nitroaniline": -2.37, "3_nitroaniline": -2.19, "p_toluidine": -1.21,
    "cyclohexanone": -0.6, "cyclohexanol": -0.44, "isopentyl_acetate": -1.92, "3_pentanone": -0.28,
    "1_4_dibromobenzene": -4.07, "1_bromobutane": -2.37, "4_tert_butylphenol": -2.41,
    "p_anisaldehyde": -1.49,
}


def log_solubility(key: str) -> float:
    """log10 of our solubility in water [mol/L]."""
    substance = SUBSTANCES[key]
    return math.log10(substance.values["water_solubility"].value / substance.molar_mass)


@pytest.mark.parametrize("key", [
    k for k in LOG_SOLUBILITY if SUBSTANCES[k].values["water_solubility"].source == "delaney_2004"])
def test_what_was_taken_from_the_publication_is_what_it_says(key: str) -> None:
    assert log_solubility(key) == pytest.approx(LOG_SOLUBILITY[key], abs=0.01)


def test_solubilities_of_other_sources_agree_with_it() -> None:
    """Nine in ten within 0.3 log, a factor of two: as far as measurements agree with each other."""
    others = [k for k in LOG_SOLUBILITY
              if SUBSTANCES[k].values["water_solubility"].source != "delaney_2004"]
    close = [abs(log_solubility(k) - LOG_SOLUBILITY[k]) < 0.3 for k in others]
    assert len(close) > 20
    assert sum(close) / len(close) >= 0.9


def test_citric_acid_has_the_constants_of_the_emf_measurements() -> None:
    """3.127, 4.759 and 6.397 at 25 C and no ionic strength: J. Solution Chem., "Dissociation
    quotients for citric acid in aqueous sodium chloride media to 150 C", abstract."""
    pKa = [q.value for q in SUBSTANCES["citric_acid"].pKa]
    assert pKa == pytest.approx([3.127, 4.759, 6.397], abs=0.002)


def test_saturated_bicarbonate_holds_what_the_solubility_says() -> None:
    """9.6 g in 100 g of water at 20 C (Seidell, as given by a chemical database)."""
    solution = tables().solutions["nahco3_sat"]
    molar_mass = tables().salts["sodium_bicarbonate"].molar_mass
    salt_g_mL = solution.components["sodium"] * molar_mass / 1e3
    per_100_g_water = 100.0 * salt_g_mL / (solution.density.value - salt_g_mL)
    assert per_100_g_water == pytest.approx(9.6, abs=0.05)
