"""The caution beside each kind of step, and what it depends on."""

import pytest

from workups.chemistry import plan as steps
from workups.chemistry.plan import STEP_KINDS, Plan, Step
from workups.chemistry.setup import OwnMaterial, Reaction, Setup
from workups.exercise.exercise import Exercise
from workups.words.sentences import step_caution

SHAKE = {
    "id": "1",
    "flask": "funnel",
    "keep": "upper",
    "keep_in": "funnel",
    "other_in": "washings",
    "volume_mL": 20,
}


def make_exercise(*materials: str) -> Exercise:
    own = (
        OwnMaterial("own_soda", "own soda", 1.0, {"sodium": 0.6, "carbon_dioxide": 0.6}),
        OwnMaterial("own_acid", "own acid", 1.0, {"chloride": 2.0}, "corrosive"),
    )
    return Exercise("cautions", "Cautions", Setup(Reaction(()), (), materials, own), Plan(()))


EXERCISE = make_exercise("mtbe", "nahco3_5pct")


@pytest.mark.parametrize("material", ["nahco3_5pct", "nahco3_sat", "na2co3_10pct", "own_soda"])
def test_a_carbonate_wash_is_swirled_open(material: str) -> None:
    caution = step_caution(steps.Wash(**SHAKE, material=material), EXERCISE)
    assert caution.startswith("Gas: swirl open until the fizzing stops")


@pytest.mark.parametrize(
    ("material", "words"),
    [
        ("naoh_1m", "Base, corrosive: mind your eyes."),
        ("hcl_3m", "Acid, corrosive: mind your eyes."),
        ("h2so4_1m", "Acid, corrosive: mind your eyes."),
        ("own_acid", "Acid, corrosive: mind your eyes."),
    ],
)
def test_an_acid_or_base_wash_warns_of_the_eyes_and_still_of_venting(
    material: str, words: str
) -> None:
    caution = step_caution(steps.Wash(**SHAKE, material=material), EXERCISE)
    assert caution.startswith(words)
    assert "vent at once" in caution


@pytest.mark.parametrize("material", ["water", "brine", "nh4cl_sat", "nah2po4_1m", "na2so4_10pct"])
def test_a_mild_wash_warns_of_venting_only(material: str) -> None:
    caution = step_caution(steps.Wash(**SHAKE, material=material), EXERCISE)
    assert caution.startswith("Hold stopper and tap")


def test_bisulfite_warns_of_sulfur_dioxide() -> None:
    caution = step_caution(steps.Wash(**SHAKE, material="nahso3_10pct"), EXERCISE)
    assert caution.startswith("Sulfur dioxide with acid: hood.")


def test_a_quench_is_cold_slow_and_open() -> None:
    step = steps.Quench(id="1", flask="pot", material="nh4cl_sat", volume_mL=25)
    assert "slowly, cold, open, in the hood" in step_caution(step, EXERCISE)


def test_adding_a_flammable_solvent_forbids_flames() -> None:
    step = steps.Add(id="1", flask="funnel", material="mtbe", volume_mL=30)
    assert step_caution(step, EXERCISE) == "Flammable vapour: no flame, no hotplate."


def test_adding_a_carbonate_warns_of_foam() -> None:
    step = steps.Add(id="1", flask="pot", material="nahco3_sat", volume_mL=30)
    assert "foams" in step_caution(step, EXERCISE)


def test_a_chlorinated_solvent_has_its_own_waste() -> None:
    step = steps.Extract(**SHAKE, material="dichloromethane")
    assert "its own waste container" in step_caution(step, EXERCISE)


@pytest.mark.parametrize(
    ("solvent", "expected"),
    [
        ("diethyl_ether", True),
        ("2_methyltetrahydrofuran", True),
        ("mtbe", False),
        ("toluene", False),
    ],
)
def test_stripping_a_peroxide_former_never_goes_to_dryness_untested(
    solvent: str, expected: bool
) -> None:
    caution = step_caution(steps.Strip(id="1", flask="R"), make_exercise(solvent))
    assert ("never to dryness if peroxides are possible" in caution) is expected
    assert "no flame" in caution


def test_stripping_a_chlorinated_solvent_says_nothing_of_flames() -> None:
    caution = step_caution(steps.Strip(id="1", flask="R"), make_exercise("dichloromethane"))
    assert "flame" not in caution
    assert "Halogenated" in caution


PLAIN: dict[str, Step] = {
    step.verb: step
    for step in (
        steps.Cool(id="1", flask="a"),
        steps.Transfer(id="1", flask="a", into="funnel"),
        steps.Separate(id="1", flask="a", keep_in="a", other_in="b"),
        steps.Combine(id="1", flasks=("a", "b"), into="c"),
        steps.Rinse(id="1", flask="a", material="mtbe", volume_mL=5, into="b"),
        steps.Dry(id="1", flask="a", agent="magnesium_sulfate"),
        steps.Filter(id="1", flask="a", into="b"),
        steps.Tare(id="1", flask="a"),
        steps.Collect(id="1", flask="a", into="b", filtrate_in="c"),
        steps.Weigh(id="1", flask="a"),
        steps.Discard(id="1", flask="a"),
        steps.Stand(id="1", flask="a"),
        steps.Quench(id="1", flask="a", material="water", volume_mL=1),
        steps.Add(id="1", flask="a", material="mtbe", volume_mL=1),
        steps.Extract(**SHAKE, material="mtbe"),
        steps.Wash(**SHAKE, material="water"),
        steps.Adjust(id="1", flask="a", material="hcl_3m", until_pH=2),
        steps.Strip(id="1", flask="a"),
        steps.Triturate(id="1", flask="a", material="mtbe", volume_mL=1, liquid_in="b"),
    )
}


@pytest.mark.parametrize("verb", sorted(set(STEP_KINDS) - {"label", "test"}))
def test_every_step_but_labelling_and_testing_carries_a_short_caution(verb: str) -> None:
    caution = step_caution(PLAIN[verb], EXERCISE)
    assert caution.endswith(".")
    assert len(caution) < 220


@pytest.mark.parametrize(
    ("flask", "into", "expected"),
    [
        ("reaction flask", "big vessel", True),
        ("flask A", "Separatory funnel", True),
        ("funnel", "drying flask", False),
    ],
)
def test_pouring_into_a_funnel_wants_it_cold_and_the_tap_closed(
    flask: str, into: str, expected: bool
) -> None:
    caution = step_caution(steps.Transfer(id="1", flask=flask, into=into), EXERCISE)
    assert ("tap closed" in caution) is expected


def test_labelling_and_testing_carry_no_caution() -> None:
    assert step_caution(steps.Label(id="1", flask="a"), EXERCISE) == ""
    assert step_caution(steps.Test(id="1", flask="a"), EXERCISE) == ""
