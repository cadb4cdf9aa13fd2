"""Gas at the quench and magnesium hydroxide, against sums done by hand."""

from __future__ import annotations

import numpy as np
import pytest

from workups.chemistry.constants import ATMOSPHERE_PA
from workups.chemistry.draws import Draws
from workups.chemistry.facts import Facts
from workups.chemistry.gel import most_dissolved, solubility_product
from workups.chemistry.layers import molar_gas_volume_mL
from workups.chemistry.plan import Add, Adjust, Extract, Plan, Quench, Separate, Step
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target

from .comparison import disagreements

FLASK = "reaction flask"


def bench(*reagents: Reagent, room_C: float = 20.0) -> Setup:
    return Setup(
        Reaction((Reagent("1_hexanol", "product", 0, mass_g=1.0), *reagents)),
        (Target("1_hexanol"),),
        ("water", "diethyl_ether", "nh4cl_sat", "hcl_1m", "naoh_1m", "nahco3_5pct"),
        room_C=room_C)


def grignard(mmol: float) -> Reagent:
    """What is left of methylmagnesium bromide once water has met it."""
    return Reagent("methylmagnesium_bromide", "reagent", 0, amount_mmol=mmol)


def parted(**more: object) -> Separate:
    return Separate(id="part", flask=FLASK, keep="upper", keep_in="upper", other_in="lower",
                    **more)  # type: ignore[arg-type]


def run_of(setup: Setup, *steps: Step) -> Run:
    return simulate(Plan(steps), setup, Draws(1, 1, 0))


def ether(mL: float = 40.0) -> Add:
    return Add(id="ether", flask=FLASK, material="diethyl_ether", volume_mL=mL)


def quenched(material: str, mL: float = 30.0) -> Quench:
    return Quench(id="quench", flask=FLASK, material=material, volume_mL=mL)


def facts(run: Run, step: str) -> Facts:
    return run.outcome(step).facts


@pytest.mark.parametrize(
    ("reagent", "gas", "per_mol"),
    [("sodium_borohydride", "hydrogen", 4), ("sodium_hydride", "hydrogen", 1),
     ("methylmagnesium_bromide", "methane", 1)])
def test_the_quench_gives_the_gas_of_the_equation(reagent: str, gas: str, per_mol: int) -> None:
    """NaBH4 + 4 H2O: 4 H2; NaH + H2O: H2; CH3MgBr + H2O: CH4; per mol. All of it leaves."""
    run = run_of(bench(Reagent(reagent, "reagent", 0, amount_mmol=5.0)), ether(),
                 quenched("nh4cl_sat"))
    found = facts(run, "quench").gas_mmol
    assert found is not None
    assert float(found[0]) == pytest.approx(5.0 * per_mol, rel=1e-9)
    row = run.inventory.index[gas]
    assert run.end.air[row, 0] == pytest.approx(5.0 * per_mol, rel=1e-9)
    assert run.end.flasks[FLASK].total()[row, 0] == 0.0


def test_the_gas_takes_ether_along_in_the_ratio_of_the_pressures() -> None:
    """10 mmol of methane over ether at 20 C: n p/(P - p - p of water), p by Raoult's law."""
    run = run_of(bench(grignard(10.0)), ether(), quenched("nh4cl_sat"))
    inv = run.inventory
    gone = run.end.air[inv.index["diethyl_ether"], 0]
    ether_Pa = float(inv.saturation_Pa(20.0)[inv.index["diethyl_ether"]])
    layer = run.end.flasks[FLASK].organic[:, 0]
    share = layer[inv.index["diethyl_ether"]] / layer.sum() * ether_Pa
    assert 0.9 < share / ether_Pa < 0.95
    assert gone == pytest.approx(10.0 * share / (ATMOSPHERE_PA - share - 1800.0), rel=0.02)


def test_a_stopper_would_hold_the_gas_at_the_pressure_of_the_gas_law() -> None:
    """5 mmol in 170 mL at 20 C: p = n R T / V = 71.7 kPa on top of air and vapours."""
    with_gas = bench(Reagent("sodium_hydride", "reagent", 0, amount_mmol=5.0))
    extract = Extract(id="shake", flask=FLASK, material="water", volume_mL=40.0, keep="upper",
                      keep_in="upper", other_in="lower")
    shaken = facts(run_of(with_gas, ether(39.0), extract), "shake").shakes[0]
    without = facts(run_of(bench(Reagent("sodium_hydroxide", "base", 0, amount_mmol=5.0)),
                           ether(39.0), extract), "shake").shakes[0]
    headspace = 250.0 * (1.0 - float(shaken.fill[0]))
    expected = 5.0 * molar_gas_volume_mL(20.0) / headspace * ATMOSPHERE_PA
    more = float(shaken.stoppered_Pa[0] - without.stoppered_Pa[0])
    assert more == pytest.approx(expected, rel=0.02)


def test_magnesium_hydroxide_comes_out_at_the_textbook_pH() -> None:
    """[Mg][OH]^2 = 10^-10.88: 0.05 mol/L of magnesium from pH 9.21 on."""
    pH = 14.0 + 0.5 * (-10.88 - np.log10(0.05))
    assert pH == pytest.approx(9.21, abs=0.005)
    assert float(most_dissolved(10.0**-pH)) == pytest.approx(0.05, rel=1e-9)


def test_how_soluble_a_fresh_gel_is_is_drawn_up_to_ten_times_brucite() -> None:
    """The 95th percentile 10^-9.88, the 5th 10^-11.0, brucite in the middle and in draw 0."""
    drawn = np.log10(solubility_product(Draws(1, 2000)))
    assert drawn[0] == pytest.approx(-10.88)
    assert np.percentile(drawn, [5, 50, 95]) == pytest.approx([-11.0, -10.88, -9.88], abs=0.1)


def test_a_more_soluble_gel_comes_out_at_a_higher_pH() -> None:
    """20 mmol quenched with water stand at pH 14 + (log Ksp - log [Mg])/2 in every draw."""
    run = simulate(Plan((ether(), quenched("water", 60.0), parted())), bench(grignard(20.0)),
                   Draws(1, 12))
    shake = facts(run, "part").shakes[0]
    product = np.log10(solubility_product(Draws(1, 12)))
    assert shake.pH == pytest.approx(14.0 + 0.5 * (product - np.log10(10.0 / 60.0)), abs=0.06)


def gel_mmol(material: str) -> tuple[float, float]:
    """Gel [mmol] and pH where 20 mmol of a Grignard reagent is quenched with 60 mL."""
    run = run_of(bench(grignard(20.0)), ether(), quenched(material, 60.0), parted())
    shake = facts(run, "part").shakes[0]
    return float(shake.gel_mmol[0]), float(shake.pH[0])


def test_water_makes_a_gel_and_ammonium_or_acid_prevents_it() -> None:
    """Water: of Mg(OH)Br half is hydroxide, so half the magnesium comes out. Ammonium keeps the
    pH near 8 (pKa 9.25, far more ammonium than ammonia), where all stays dissolved."""
    gel, pH = gel_mmol("water")
    assert gel == pytest.approx(10.0, abs=0.1)
    assert pH == pytest.approx(14.0 + 0.5 * (-10.88 - np.log10(10.0 / 60.0)), abs=0.05)
    for material in ("nh4cl_sat", "hcl_1m"):
        assert gel_mmol(material)[0] == 0.0


def test_acid_dissolves_the_gel_again() -> None:
    steps = (ether(), quenched("water", 60.0), parted())
    after = run_of(bench(grignard(20.0)), *steps, Add(
        id="acid", flask="lower", material="hcl_1m", volume_mL=30.0))
    row = after.inventory.index["magnesium"]
    assert after.before(3).flasks["lower"].solid[row, 0] == pytest.approx(10.0, abs=0.2)
    assert after.end.flasks["lower"].solid[row, 0] == 0.0


def test_the_gel_holds_organic_layer_back_and_slows_the_droplets() -> None:
    """10 mmol at 0.05 mL each, on top of the usual 0.15 mL; droplets settle 4 times slower."""
    lower, drops = {}, {}
    for material in ("water", "hcl_1m"):
        run = run_of(bench(grignard(20.0)), ether(), quenched(material, 60.0),
                     parted(settle_min=6.0))
        inv, flasks = run.inventory, run.end.flasks
        lower[material] = float(inv.volume_mL(flasks["lower"].organic)[0])
        drops[material] = float(inv.volume_mL(flasks["upper"].droplets)[0])
    assert lower["water"] - lower["hcl_1m"] == pytest.approx(0.5, abs=0.02)
    # exp(-6/24) against exp(-6/6), each with the 0.15 that never settles.
    ratio = (0.15 + 0.85 * np.exp(-0.25)) / (0.15 + 0.85 * np.exp(-1.0))
    assert drops["water"] / drops["hcl_1m"] == pytest.approx(ratio, rel=0.05)


@pytest.mark.parametrize("material", ["water", "nh4cl_sat", "hcl_1m", "naoh_1m", "nahco3_5pct"])
def test_the_scalar_simulation_agrees(material: str) -> None:
    """Gas, gel, both ways at the interface and the rinsed flask, on plain floats."""
    setup = bench(grignard(12.0), Reagent("sodium_borohydride", "reagent", 0, amount_mmol=3.0))
    plan = Plan((
        ether(30.0), quenched(material, 40.0),
        Extract(id="first", flask=FLASK, material="diethyl_ether", volume_mL=20.0, portions=2,
                rinse_flask=True, keep="upper", keep_in="ether", other_in="water",
                interface="with the organic layer"),
        Separate(id="again", flask="water", keep="upper", keep_in="rest", other_in="waste")))
    assert disagreements(plan, setup) == []


def test_bringing_a_magnesium_solution_to_a_pH_takes_the_base_of_the_gel_too() -> None:
    """10 mmol of MgBrCl in acid, to pH 11: two hydroxides for each magnesium, the acid's besides;
    of 10^-10.88/10^-6 = 1.3e-5 mol/L nearly all is out."""
    setup = bench(grignard(10.0))
    plan = Plan((quenched("hcl_1m", 20.0),
                 Adjust(id="adjust", flask=FLASK, material="naoh_1m", until_pH=11.0)))
    run = simulate(plan, setup, Draws(1, 1, 0))
    inv = run.inventory
    end = run.end.flasks[FLASK]
    assert end.solid[inv.magnesium, 0] == pytest.approx(10.0, rel=1e-3)
    # Charge: Na = Cl (20) + Br (10) - 2 Mg dissolved (0), and a little free hydroxide.
    base = end.total()[inv.index["sodium"], 0]
    assert base == pytest.approx(30.0, rel=0.01)
    assert disagreements(plan, setup) == []


def test_hydrogen_out_of_ether_comes_with_the_ether_that_it_takes_along() -> None:
    """20 mmol, 481 mL dry at 20 C. Ether has 58.6 kPa there and water 2.3: of each bubble 0.40 is
    hydrogen, so 1,190 mL come out; the ether is wet and holds less, hence 5 %."""
    setup = Setup(
        Reaction((Reagent("sodium_borohydride", "hydride", 0.0, amount_mmol=5.0),
                  Reagent("diethyl_ether", "solvent", 0.0, volume_mL=50.0))),
        (Target("diethyl_ether"),), ("water", "diethyl_ether", "nh4cl_sat"))
    quench = Quench(id="quench", flask=FLASK, material="nh4cl_sat", volume_mL=40.0)
    adjust = Adjust(id="quench", flask=FLASK, material="nh4cl_sat", until_pH=7.0)
    for step in (quench, adjust):
        facts = simulate(Plan((step,)), setup, Draws(1, 2)).outcome("quench").facts
        assert facts.gas_mmol is not None
        assert facts.escaped_mmol is not None
        assert facts.gas_mmol[0] * 24.06 == pytest.approx(481.0, rel=0.01)
        assert facts.escaped_mmol[0] * 24.06 == pytest.approx(1170.0, rel=0.05)
