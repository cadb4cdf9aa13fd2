"""Worked examples: every number with its source, against the core and against other solvers.

The comparisons with their sources and tolerances stand in ``workups.chemistry.reference_cases``;
the command ``check_values`` prints the same ones.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest
from scipy.optimize import brentq
from uncertainties import ufloat

from workups.chemistry.reference_cases import ReferenceCase, reference_cases
from workups.chemistry.reference_cases.carbonate import shaken
from workups.chemistry.reference_cases.extraction import distribution_ratio
from workups.chemistry.stripping import evaporate_droplets, relative_volatility_of_water
from workups.chemistry.yields import Mass, percent_yield, weighing_u_g


@pytest.mark.parametrize("case", reference_cases(), ids=lambda c: c.name)
def test_a_number_of_ours_agrees_with_the_same_number_from_outside(case: ReferenceCase) -> None:
    assert case.source
    assert case.difference() == pytest.approx(0.0, abs=case.tolerance), (case.source, case.note)


def carbonate_by_hand(co2_atm: float | None) -> tuple[float, float, float]:
    """pH, acid in the water [mmol], dry gas [mmol] by one bracketed root on plain floats.

    Same data as the worked table: 10 mmol benzoic acid (pKa 4.20, K 71), 50 mL ether, 25 mL water
    with 15 mmol NaHCO3; carbonic acid pKa 6.352 and 10.329, Henry 0.0340 mol/(L atm).
    """
    ka, k1, k2, kw = 10**-4.20, 10**-6.352, 10**-10.329, 1e-14

    def acid_and_carbonate(h: float) -> tuple[float, float, float, float]:
        acid = 10.0 / (1.0 + 71.0 * 50.0 / 25.0 * h / (h + ka))
        if co2_atm is None:
            total = 15.0
        else:
            total = 25.0 * 0.0340 * co2_atm * (1.0 + k1 / h + k1 * k2 / h**2)
        whole = 1.0 + k1 / h + k1 * k2 / h**2
        return acid, total, total * (k1 / h) / whole, total * (k1 * k2 / h**2) / whole

    def charge(pH: float) -> float:
        h = 10.0**-pH
        acid, _, hydrogencarbonate, carbonate = acid_and_carbonate(h)
        return (15.0 + 25.0 * (h - kw / h) - acid * ka / (h + ka) - hydrogencarbonate
                - 2.0 * carbonate)

    pH = brentq(charge, 0.0, 14.0, xtol=1e-14, rtol=1e-15)
    acid, total, _, _ = acid_and_carbonate(10.0**-pH)
    return pH, acid, 15.0 - total


@pytest.mark.parametrize("co2_atm", [None, 1.0, 0.40, 0.05])
def test_the_carbonate_table_agrees_with_a_bracketed_root_on_plain_floats(
    co2_atm: float | None,
) -> None:
    pH, acid, gas = carbonate_by_hand(co2_atm)
    ours = shaken(co2_atm)
    assert ours.pH == pytest.approx(pH, abs=1e-11)
    assert ours.acid_mmol == pytest.approx(acid, rel=1e-10)
    assert ours.gas_mmol == pytest.approx(gas, abs=1e-9)


@pytest.mark.parametrize("pH", [0.0, 3.5, 4.2, 7.0, 11.0])
def test_the_distribution_ratio_of_an_acid_is_the_textbook_formula(pH: float) -> None:
    """D = K [H+]/([H+] + Ka)."""
    h, ka = 10.0**-pH, 10.0**-4.2
    assert distribution_ratio(71.0, 4.2, pH) == pytest.approx(71.0 * h / (h + ka), rel=1e-13)


def test_yields_propagate_uncertainty_like_the_uncertainties_library() -> None:
    """100 m/m_theo with both masses uncertain, against first-order propagation there."""
    for found_g, u_found, theory_g, u_theory in [
        (6.11, 0.015, 7.21, 0.021), (0.052, 0.004, 0.061, 0.001), (128.0, 0.01, 100.0, 0.01),
    ]:
        ours = percent_yield(Mass(found_g, u_found), Mass(theory_g, u_theory))
        theirs = 100 * ufloat(found_g, u_found) / ufloat(theory_g, u_theory)
        assert ours.percent == pytest.approx(theirs.nominal_value, rel=1e-14)
        assert ours.u_percent == pytest.approx(theirs.std_dev, rel=1e-12)


def test_a_difference_of_two_weighings_propagates_like_the_uncertainties_library() -> None:
    """On a 0.01 g balance of unknown repeatability: 0.01 sqrt(2 (1 + 1/12)) = 0.0147 g."""
    u = weighing_u_g(0.01, None)
    assert (ufloat(0.0, u) - ufloat(0.0, u)).std_dev == pytest.approx(0.014720, abs=5e-7)


def after_the_drops(
    water_mg: float, solvent_mL: float, solvent: ReferenceSolvent
) -> tuple[float, float]:
    """Solvent [mmol] and water [mg] left at the end of our two-liquid stage."""
    moles = solvent_mL * solvent.density_g_mL / solvent.molar_mass * 1e3
    dissolved = min(water_mg / 18.015, solvent.holds_mol_mol * moles)
    solvent_left, left = evaporate_droplets(
        np.array([moles]), np.array([water_mg / 18.015 - dissolved]), np.array([dissolved]),
        np.array([7385.0 / solvent.vapour_Pa]), np.array([solvent.holds_mol_mol]))
    return float(solvent_left[0]), float(left[0]) * 18.015


class ReferenceSolvent(NamedTuple):
    """Density at 20 C, molar mass, vapour pressure at 40 C (Perry's Handbook, 8th ed.), water
    held at saturation [mol/mol] (1.4 and 1.3 wt%)."""

    density_g_mL: float
    molar_mass: float
    vapour_Pa: float
    holds_mol_mol: float


MTBE = ReferenceSolvent(0.7404, 88.15, 59945.0, 0.0695)
ETHER = ReferenceSolvent(0.7138, 74.123, 123068.0, 0.0542)


def test_half_a_gram_of_water_leaves_with_forty_millilitres_of_mtbe_but_not_of_ether() -> None:
    """40 mL of MTBE can carry 746 mg, of ether 416 mg (18.64 and 10.41 mg per mL)."""
    solvent, _ = after_the_drops(500.0, 40.0, MTBE)
    assert solvent > 0.0, "the last drop goes while there is still solvent to carry the rest"
    solvent, water_mg = after_the_drops(500.0, 40.0, ETHER)
    assert solvent == 0.0
    assert water_mg == pytest.approx(500.0 - 40.0 * 10.41, abs=0.5)
    solvent, water_mg = after_the_drops(800.0, 40.0, MTBE)
    assert solvent == 0.0
    assert water_mg == pytest.approx(800.0 - 40.0 * 18.64, abs=0.5)


def test_the_relative_volatility_of_water_is_the_ratio_of_pressures_over_its_solubility() -> None:
    """Ether at 25 C: water 3169 Pa, ether 71.2 kPa, x_sat 0.050: 0.0445/0.050."""
    assert relative_volatility_of_water(3169.0, 71200.0, 0.050) == pytest.approx(0.890, abs=5e-4)
