"""What a drying agent holds, what it binds, and what it looks like, against sums by hand."""

from __future__ import annotations

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.drying import clumps_from
from workups.chemistry.plan import START_FLASK, Dry, Plan
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target
from workups.chemistry.tables import tables

CACL2_G_MOL, WATER_G_MOL = 110.98, 18.015


def dried(contents: dict[str, float], water_mmol: float, *steps: Dry) -> Run:
    """Substances [mmol] and water in 100 mL of toluene, which hardly dissolves water, over calcium
    chloride."""
    reagents = [Reagent(k, "made up", 0, amount_mmol=n) for k, n in contents.items()]
    reagents += [Reagent("toluene", "solvent", 0, volume_mL=100.0),
                 Reagent("water", "water", 0, amount_mmol=water_mmol)]
    target = next(iter(contents))
    setup = Setup(Reaction(tuple(reagents)), (Target(target),), ("toluene", "calcium_chloride"))
    return simulate(Plan(steps), setup, Draws(1, 1))


def over(grams: float, key: str = "dry") -> Dry:
    return Dry(id=key, flask=START_FLASK, agent="calcium_chloride", endpoint="weighed",
               mass_g=grams, minutes=1000.0)


def bound(run: Run, key: str) -> float:
    return float(run.end.flasks[START_FLASK].solid[run.inventory.index[key], 0])


MIXTURE = {"anisole": 10.0, "cyclohexanol": 12.0, "benzyl_alcohol": 6.0, "p_cresol": 2.0}


def test_calcium_chloride_binds_all_it_can_bind_not_the_product_alone() -> None:
    """2.2196 g of CaCl2 are 20 mmol and bind 0.5 mol per mol (a practice value): 10 mmol of the
    20 mmol of alcohols and phenol there are, half of each; none of the ether."""
    run = dried(MIXTURE, 0.0, over(2.2196))
    each = {key: bound(run, key) for key in MIXTURE}
    assert each == pytest.approx(
        {"anisole": 0.0, "cyclohexanol": 6.0, "benzyl_alcohol": 3.0, "p_cresol": 1.0}, rel=1e-3)


def test_what_is_bound_is_bound_once_however_often_agent_goes_in() -> None:
    """Two spoons of 10 mmol hold what one of 20 mmol does."""
    run = dried(MIXTURE, 0.0, over(1.1098), over(1.1098, "dry-again"))
    assert sum(bound(run, key) for key in MIXTURE) == pytest.approx(10.0, rel=1e-3)


def test_with_room_for_more_it_takes_its_largest_share_once() -> None:
    """22.196 g are 200 mmol and have room for all 20 mmol; six tenths (a practice value) is the
    most that is taken, in one portion or in two."""
    for steps in ([over(22.196)], [over(11.098), over(11.098, "dry-again")]):
        run = dried(MIXTURE, 0.0, *steps)
        assert sum(bound(run, key) for key in MIXTURE) == pytest.approx(12.0, rel=1e-3)


@pytest.mark.parametrize(("mol_per_mol", "look"), [(1.9, "free-flowing"), (5.8, "clumped")])
def test_calcium_chloride_flows_as_dihydrate_and_clumps_towards_the_hexahydrate(
    mol_per_mol: float, look: str
) -> None:
    """The dihydrate is sold as loose flakes, the hexahydrate melts at 30 C (from memory)."""
    salt = 5.0 / CACL2_G_MOL * 1e3
    facts = dried({"anisole": 10.0}, mol_per_mol * salt, over(5.0)).outcome("dry").facts.drying
    assert facts is not None
    assert facts.agent_look == look


def test_where_an_agent_clumps_is_uncertain_and_never_beyond_its_last_hydrate() -> None:
    """Calcium chloride: hardly below the dihydrate, hardly above the hexahydrate."""
    for agent in tables().agents.values():
        drawn = clumps_from(agent, Draws(1, 400))
        assert drawn[0] == agent.clump_from.value
        assert drawn.max() <= agent.steps[-1].to_mol
    low, high = np.percentile(clumps_from(tables().agents["calcium_chloride"], Draws(1, 400)),
                              [5, 95])
    assert 2.0 <= low < 3.5 < high <= 6.0


def test_magnesium_sulfate_may_cleave_an_acetal_and_binds_none() -> None:
    """It is faintly acid, and no acetal is a ligand that it would hold on the filter."""
    ketal = "4_phenylcyclohexanone_ethylene_ketal"
    assert "acetal" in tables().substances[ketal].classes
    assert not tables().agents["magnesium_sulfate"].incompatible
