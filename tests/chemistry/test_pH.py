"""The pH of a water layer against closed forms and polynomial roots."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workups.chemistry.speciation import (
    Ionisable,
    NotConverged,
    balance_charge,
    shares_in_water,
)

KW = 1e-14
ALWAYS = settings(max_examples=80, deadline=None, derandomize=True)


def pH_of(acids: list[tuple[int, list[float], float]], strong: float) -> float:
    """pH of 1 L with (charge of the top form, pKa values, mol/L) and a net strong charge."""
    records = [Ionisable(i, top, np.array([[10.0**-k] for k in pKa]))
               for i, (top, pKa, _) in enumerate(acids)]
    amounts = np.array([[c] for *_, c in acids]).reshape(-1, 1)
    x = balance_charge(records, amounts, np.zeros((len(acids), 1)),
                       np.array([strong]), np.array([1.0]))
    return float(-x[0] / math.log(10.0))


def by_polynomial(acids: list[tuple[int, list[float], float]], strong: float) -> float:
    """The same from the positive root of the charge balance written as a polynomial in h.

    Each term is multiplied by all denominators sum_j h^(L-j) K_1..K_j and by h.
    """
    def denominator(pKa: list[float]) -> np.poly1d:
        constants = [math.prod(10.0**-k for k in pKa[:j]) for j in range(len(pKa) + 1)]
        return np.poly1d(constants)

    whole = np.poly1d([1.0])
    for _, pKa, _ in acids:
        whole = whole * denominator(pKa)
    total = np.poly1d([1.0, strong, -KW]) * whole
    for i, (top, pKa, concentration) in enumerate(acids):
        constants = [math.prod(10.0**-k for k in pKa[:j]) for j in range(len(pKa) + 1)]
        numerator = np.poly1d([(top - j) * k for j, k in enumerate(constants)])
        rest = np.poly1d([1.0])
        for other, (_, levels, _) in enumerate(acids):
            if other != i:
                rest = rest * denominator(levels)
        total = total + concentration * np.poly1d([1.0, 0.0]) * numerator * rest
    real = [r.real for r in total.roots if abs(r.imag) < 1e-9 * abs(r) and r.real > 0]
    assert len(real) == 1, "one positive root: the balance rises with h"
    return -math.log10(real[0])


@pytest.mark.parametrize(("strong", "pH"), [(-0.1, 1.0), (-1.0, 0.0), (0.1, 13.0), (0.0, 7.0)])
def test_strong_acid_and_base(strong: float, pH: float) -> None:
    assert pH_of([], strong) == pytest.approx(pH, abs=1e-6)


def test_a_weak_acid_alone() -> None:
    """0.100 M acetic acid, pKa 4.756: h = (-Ka + sqrt(Ka^2 + 4 Ka c))/2 but for Kw."""
    ka = 10.0**-4.756
    h = (-ka + math.sqrt(ka * ka + 0.4 * ka)) / 2.0
    assert pH_of([(0, [4.756], 0.1)], 0.0) == pytest.approx(-math.log10(h), abs=1e-7)


def test_a_buffer_of_equal_parts_has_the_pH_of_its_pKa() -> None:
    assert pH_of([(0, [4.756], 0.2)], 0.1) == pytest.approx(4.756, abs=2e-4)


def test_hydrogencarbonate_lies_between_its_constants() -> None:
    """0.100 M NaHCO3: (6.352 + 10.329)/2 = 8.34 in the textbook approximation."""
    assert pH_of([(0, [6.352, 10.329], 0.1)], 0.1) == pytest.approx(8.34, abs=5e-3)


def test_ammonium_chloride() -> None:
    """0.100 M NH4Cl, pKa 9.25: half the sum of 9.25 and 1, but for Kw."""
    assert pH_of([(1, [9.25], 0.1)], -0.1) == pytest.approx(5.125, abs=5e-4)


@ALWAYS
@given(
    acids=st.lists(
        st.tuples(st.sampled_from([-1, 0, 1, 2]),
                  st.lists(st.floats(1.0, 12.0), min_size=1, max_size=3).map(sorted),
                  st.floats(1e-3, 1.0)),
        max_size=3),
    strong=st.floats(-1.0, 1.0),
)
def test_mixtures_agree_with_the_positive_root_of_a_polynomial(
    acids: list[tuple[int, list[float], float]], strong: float
) -> None:
    try:
        expected = by_polynomial(acids, strong)
    except AssertionError:
        # Root finders for polynomials of degree 8 and more lose roots to rounding; skip those.
        return
    if not -0.8 < expected < 15.5:
        return
    size = abs(strong) + sum(c for *_, c in acids)
    found = pH_of(acids, strong)
    # What the polynomial can tell: its coefficients are rounded too.
    assert found == pytest.approx(expected, abs=1e-5 + 1e-9 * size * 10.0 ** abs(7 - expected))


@ALWAYS
@given(pull=st.floats(0.0, 1e4), pH=st.floats(0.0, 14.0), pKa=st.floats(1.0, 12.0))
def test_the_share_in_water_is_the_textbook_one(pull: float, pH: float, pKa: float) -> None:
    """1/(1 + D r) with D = K [H+]/([H+] + Ka)."""
    acids = [Ionisable(0, 0, np.array([[10.0**-pKa]]))]
    share = shares_in_water(acids, np.array([-pH * math.log(10.0)]), np.array([[pull]]))
    neutral = 1.0 / (1.0 + 10.0 ** (pH - pKa))
    assert float(share[0, 0]) == pytest.approx(1.0 / (1.0 + pull * neutral), rel=1e-11)


def test_impossible_amounts_are_refused_by_name() -> None:
    with pytest.raises(NotConverged, match="not a number"):
        balance_charge([], np.zeros((0, 1)), np.zeros((0, 1)), np.array([np.nan]),
                       np.array([1.0]))
