"""Where a textbook formula holds exactly, the engine gives it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, kstest, norm

from workups.chemistry.equilibrium import split_layers
from workups.chemistry.recovery import fraction_left

from .textbook import SOLUTE, SOLVENT, TRACE_MMOL, inventory, layers

EXACTLY = settings(max_examples=40, deadline=None, derandomize=True)
Ks = st.floats(0.01, 1000.0)
VOLUMES = st.floats(2.0, 300.0)


def left_after(K: float, water_mL: float, solvent_mL: float, portions: int) -> float:
    """Share of a trace left in the water after portions of fresh solvent."""
    inv = inventory(K, 1)
    row = inv.index[SOLUTE]
    remaining = TRACE_MMOL
    for _ in range(portions):
        split = split_layers(inv, layers(inv, remaining, water_mL, solvent_mL))
        remaining = float(split.aqueous[row, 0])
    return remaining / TRACE_MMOL


@EXACTLY
@given(K=Ks, water_mL=VOLUMES, solvent_mL=VOLUMES, portions=st.integers(1, 4))
def test_portions_leave_the_textbook_fraction(
    K: float, water_mL: float, solvent_mL: float, portions: int
) -> None:
    """q = (Vaq/(Vaq + K Vorg))^n."""
    expected = (water_mL / (water_mL + K * solvent_mL)) ** portions
    assert left_after(K, water_mL, solvent_mL, portions) == pytest.approx(expected, rel=2e-8)
    assert fraction_left(K, water_mL, solvent_mL, portions) == pytest.approx(expected, rel=1e-14)


@EXACTLY
@given(K=Ks, solvent_mL=VOLUMES, one_mL=VOLUMES, other_mL=VOLUMES)
def test_the_order_of_neutral_washes_does_not_matter(
    K: float, solvent_mL: float, one_mL: float, other_mL: float
) -> None:
    inv = inventory(K, 1)
    row = inv.index[SOLUTE]

    def kept(*waters_mL: float) -> float:
        left = TRACE_MMOL
        for water_mL in waters_mL:
            split = split_layers(inv, layers(inv, left, water_mL, solvent_mL))
            left = float(split.organic[row, 0])
        return left

    assert kept(one_mL, other_mL) == pytest.approx(kept(other_mL, one_mL), rel=1e-8)


def countercurrent(K: float, transfers: int) -> np.ndarray:
    """Share of a trace in each tube (both layers) after so many transfers of the upper layer.

    The tubes are the draws of one inventory; equal volumes, so that p = K/(1 + K) moves on.
    """
    tubes = transfers + 1
    inv = inventory(K, tubes)
    row = inv.index[SOLUTE]
    upper, lower = np.zeros(tubes), np.zeros(tubes)
    lower[0] = TRACE_MMOL
    for step in range(tubes):
        if step:
            upper = np.concatenate(([0.0], upper[:-1]))
        amounts = layers(inv, 0.0, 10.0, 10.0)
        amounts[row] = upper + lower
        split = split_layers(inv, amounts)
        upper, lower = split.organic[row], split.aqueous[row]
    return (upper + lower) / TRACE_MMOL


@pytest.mark.parametrize(("K", "transfers"), [(0.25, 8), (1.0, 20), (9.0, 40)])
def test_countercurrent_distribution_is_binomial(K: float, transfers: int) -> None:
    """After n transfers tube r holds C(n, r) p^r (1 - p)^(n - r), p = K/(1 + K)."""
    expected = binom.pmf(np.arange(transfers + 1), transfers, K / (1.0 + K))
    assert countercurrent(K, transfers) == pytest.approx(expected, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(("p", "exact", "printed"), [(0.9, 0.9601, 0.95), (0.8, 0.1285, 0.106)])
def test_a_hundred_transfers_give_the_exact_tail_and_not_the_printed_normal_one(
    p: float, exact: float, printed: float
) -> None:
    """D. Harvey, Modern Analytical Chemistry, example A6.3: tubes 85 to 99 of 100 transfers. The
    book uses the normal approximation; the binomial sum is 1 to 20 % away from it."""
    found = float(countercurrent(p / (1.0 - p), 100)[85:100].sum())
    assert found == pytest.approx(exact, abs=5e-5)
    assert abs(found - printed) > 0.01


def test_monte_carlo_recovery_follows_the_analytic_distribution() -> None:
    """With log10 K normal, ln(q/(1 - q)) is normal: q = 1/(1 + K r) and ln(K r) is.

    4000 draws against that distribution by Kolmogorov and Smirnov; and the 2.5th and 97.5th
    percentile against the analytic ones to 3 standard errors of a percentile.
    """
    spread, K, ratio = 0.25, 3.0, 20.0 / 50.0
    inv = inventory(K, 4001, spread_log10=spread)
    split = split_layers(inv, layers(inv, TRACE_MMOL, 50.0, 20.0))
    left = split.aqueous[inv.index[SOLUTE], 1:] / TRACE_MMOL
    z = -(np.log(left / (1.0 - left)) + np.log(K * ratio)) / (spread * np.log(10.0))
    assert kstest(z, norm.cdf).pvalue > 0.01
    for share in (0.025, 0.5, 0.975):
        quantile = float(np.quantile(z, share))
        error = float(np.sqrt(share * (1.0 - share) / len(z)) / norm.pdf(norm.ppf(share)))
        assert abs(quantile - norm.ppf(share)) < 3.0 * error


def test_draw_zero_is_the_nominal_value() -> None:
    inv = inventory(3.0, 50, spread_log10=0.5)
    split = split_layers(inv, layers(inv, TRACE_MMOL, 50.0, 20.0))
    left = float(split.aqueous[inv.index[SOLUTE], 0]) / TRACE_MMOL
    assert left == pytest.approx(50.0 / (50.0 + 3.0 * 20.0), rel=2e-8)


def test_solvent_that_does_not_dissolve_stays_where_it_is() -> None:
    inv = inventory(1.0, 1)
    split = split_layers(inv, layers(inv, TRACE_MMOL, 50.0, 20.0))
    assert float(inv.volume_mL(split.organic)[0]) == pytest.approx(20.0, rel=1e-8)
    assert float(split.aqueous[inv.index[SOLVENT], 0]) < 1e-9
