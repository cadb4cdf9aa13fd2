"""An instructor's own acid, base, carbonate and brine count like those on the shelf."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry import plan as p
from workups.grading.diagnosis.leftovers import acid_left
from workups.grading.diagnosis.scenarios import bench_of

from .labs import Lab, grignard, heavy, hydride, in_water, vinegar
from .tables import case_of, found

# mmol per mL.
ACIDS = {
    "citric_acid_10pct": {"citric_acid": 0.54},
    "acetic_acid_10pct": {"acetic_acid": 1.7},
    "phosphoric_acid_1m": {"phosphate": 1.0},
    "hydrogensulfate_1m": {"potassium": 1.0, "sulfate": 1.0},
}
BASES = {
    "own_bicarbonate": {"potassium": 0.9, "carbon_dioxide": 0.9},
    "own_hydroxide": {"lithium": 1.0},
}


def _acid_and_base(acid: str, base: str) -> Lab:
    """An ether layer washed with an acid and then with a base."""
    lab = heavy("mtbe").bringing(**{acid: ACIDS[acid], base: BASES[base]})
    return lab.edited("base", keep="upper", material=acid).edited(
        "water", keep="upper", material=base)


@pytest.mark.parametrize("base", BASES)
@pytest.mark.parametrize("acid", ACIDS)
def test_own_acid_and_base_washes_are_such_where_their_order_is_asked_for(
    acid: str, base: str
) -> None:
    lab = _acid_and_base(acid, base)
    assert found("last-wash", lab.choosing("last_wash", "acid"))
    assert found("last-wash", lab.choosing("last_wash", "base")) == []
    assert found("water-between-acid-and-carbonate", lab.choosing("water_between", "expected"))


@pytest.mark.parametrize("acid", ACIDS)
def test_a_quench_with_an_own_acid_is_a_quench_with_dilute_acid(acid: str) -> None:
    lab = hydride().bringing(**{acid: ACIDS[acid]}).edited("quench", material=acid)
    assert found("quench-otherwise", lab.choosing("quench_with", "dilute acid")) == []
    assert found("quench-otherwise", lab.choosing("quench_with", "ammonium chloride"))


def test_own_ammonium_chloride_quenches_as_that_on_the_shelf() -> None:
    lab = grignard().bringing(own_nh4cl={"ammonia": 3.0, "chloride": 3.0}).edited(
        "quench", material="own_nh4cl")
    assert found("quench-otherwise", lab.choosing("quench_with", "ammonium chloride")) == []


def _offering_only(lab: Lab, *materials: str) -> Lab:
    """The same lab and plan with nothing else on the bench."""
    setup = replace(lab.exercise.setup, materials=materials)
    return replace(lab, exercise=replace(lab.exercise, setup=setup, model_plan=lab.plan))


@pytest.mark.parametrize("acid", ACIDS)
def test_where_an_own_acid_is_the_only_one_it_is_the_remedy(acid: str) -> None:
    """Water alone quenches magnesium to a gel; the mend takes the acid that is there."""
    lab = _offering_only(
        grignard().bringing(**{acid: ACIDS[acid]}).edited("quench", material="water"),
        "diethyl_ether", "water", "brine", "sodium_sulfate")
    [hit] = found("magnesium-hydroxide", lab)
    assert hit.breach.mended is not None
    assert hit.breach.mended.steps[0] == replace(lab.plan.steps[0], material=acid)


def test_where_own_brine_is_the_only_one_it_is_missed_and_is_the_remedy() -> None:
    own = {"sodium": 4.5, "chloride": 4.5}
    lab = _offering_only(
        in_water().bringing(own_brine=own).without("brine"), "mtbe", "water", "sodium_sulfate")
    [hit] = found("no-brine", lab)
    assert hit.breach.mended is not None
    assert "own_brine" in {getattr(s, "material", "") for s in hit.breach.mended.steps}


def test_a_bromide_brine_is_brine() -> None:
    lab = in_water().bringing(bromide={"sodium": 4.0, "bromide": 4.0}).edited(
        "brine", material="bromide")
    assert found("no-brine", lab) == []
    assert found("brine-required", lab.choosing("brine", "required")) == []


def test_brine_is_missed_in_a_mixture_that_holds_little_water_only_by_what_it_holds() -> None:
    """Dichloromethane and hydrocarbons need none; what counts is the layer, not a list."""
    assert found("no-brine", in_water("dichloromethane").without("brine")) == []
    assert found("no-brine", in_water("mtbe").without("brine"))


def test_acid_left_is_explained_by_an_own_base_wash_that_was_left_out() -> None:
    lab = heavy("mtbe").edited("base", keep="upper", material="own", keep_in="organic").without(
        "water").bringing(own={"potassium": 0.6, "carbon_dioxide": 0.6})
    assert list(acid_left(bench_of(case_of(lab), frozenset())))


def test_acid_on_a_carbonate_layer_is_told_of_an_own_acid_too() -> None:
    carbonate = p.Add(id="bicarbonate", flask="organic layer", material="nahco3_5pct",
                      volume_mL=1.5)
    lab = vinegar().bringing(own=ACIDS["citric_acid_10pct"]).before("wash-brine", carbonate).edited(
        "wash-brine", material="own")
    assert found("acid-on-carbonate", lab)
