"""Taking the solvent off: what boils, what runs back, and what has no say in it."""

from __future__ import annotations

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.plan import START_FLASK, Plan, Strip
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target


def stripped(step: Strip, **mmol: float) -> Run:
    reagents = tuple(Reagent(key, "there", 0.0, amount_mmol=n) for key, n in mmol.items())
    setup = Setup(Reaction(reagents), (Target(next(iter(mmol))),), ("water",))
    return simulate(Plan((step,)), setup, Draws(1, 5))


def left(run: Run, key: str) -> np.ndarray:
    return np.asarray(run.end.everywhere(run.inventory.index[key])
                      - run.end.air[run.inventory.index[key]])


@pytest.mark.parametrize("bath_C", [25.0, 40.0, 60.0, 63.0])
@pytest.mark.parametrize("method", ["rotary", "open", "distil"])
def test_a_trace_of_carbon_dioxide_does_not_decide_whether_chloroform_boils(
    bath_C: float, method: str
) -> None:
    """Chloroform boils at 61 C; from 0.02 to 7 g of it was left with or without the gas."""
    step = Strip(id="strip", flask=START_FLASK, method=method, bath_C=bath_C, hold_min=10.0)
    without = stripped(step, acetophenone=20.0, chloroform=500.0)
    with_gas = stripped(step, acetophenone=20.0, chloroform=500.0, carbon_dioxide=0.5)
    assert left(with_gas, "chloroform") == pytest.approx(left(without, "chloroform"), rel=1e-9)
    assert np.all(left(with_gas, "carbon_dioxide") == 0.0)


def distilled(bath_C: float, hold_min: float, product: str = "methyl_benzoate") -> Run:
    return stripped(
        Strip(id="strip", flask=START_FLASK, method="distil", bath_C=bath_C, hold_min=hold_min),
        **{product: 100.0, "diethyl_ether": 400.0})


def test_a_solvent_distilled_off_at_one_atmosphere_leaves_an_ester_that_boils_at_199_behind() -> (
    None
):
    """By hand (Rayleigh, x_ether = P/P_ether(T) in the pot): nearly all of the ether goes below
    100 C, where the ester has 0.05 atm at most, and takes 2 % of it along; from there to 160 C, 0.3
    against 14 atm, the last 15 of 400 mmol take 2 % more (pressures from memory). All of it at
    160 C would take 9 %, and sweeping on a quarter."""
    run = distilled(160.0, 10.0)
    assert left(run, "methyl_benzoate") == pytest.approx(96.0, abs=2.0)
    assert np.all(left(run, "diethyl_ether") < 10.0)


def test_holding_on_takes_nothing_off_where_it_runs_back() -> None:
    for key in ("methyl_benzoate", "diethyl_ether"):
        assert left(distilled(100.0, 60.0), key) == pytest.approx(left(distilled(100.0, 0.0), key))


def test_an_open_dish_is_not_under_vacuum_once_it_has_boiled() -> None:
    """What boiling leaves halves in 12 min in the open, in 1.5 min under a pump (practice)."""
    step = Strip(id="strip", flask=START_FLASK, method="open", bath_C=60.0, hold_min=12.0)
    at_once = Strip(id="strip", flask=START_FLASK, method="open", bath_C=60.0, hold_min=0.0)
    after, before = (stripped(s, naphthalene=10.0, diethyl_ether=400.0) for s in (step, at_once))
    halved = left(after, "diethyl_ether")[0] / left(before, "diethyl_ether")[0]
    assert halved == pytest.approx(0.5, rel=0.01)
