"""Each kind of step as the sentence a student reads."""

import pytest

from workups.chemistry import plan as steps
from workups.chemistry.plan import STEP_KINDS, Plan, Step
from workups.chemistry.setup import OwnMaterial, Reaction, Setup
from workups.exercise.exercise import Exercise
from workups.words.numbers import NBSP
from workups.words.sentences import STREAM_TITLES, step_heading, step_sentence

EXERCISE = Exercise(
    key="sentences",
    title="Sentences",
    setup=Setup(
        Reaction(()),
        (),
        (),
        own_materials=(
            OwnMaterial("soda", "5 % sodium hydrogencarbonate solution", 1.03, {}),
            OwnMaterial("light", "light solvent", 0.74, {}),
            OwnMaterial("grains", "magnesium sulfate", 2.6, {}),
            OwnMaterial("acid", "3 M hydrochloric acid", 1.05, {}),
        ),
    ),
    model_plan=Plan(()),
)


def read(step: Step) -> str:
    return step_sentence(step, EXERCISE).replace(NBSP, " ")


SHAKE = {"id": "1", "flask": "funnel", "keep": "upper", "keep_in": "funnel"}

EXPECTED = [
    (
        steps.Wash(
            **SHAKE, material="soda", volume_mL=25, portions=2, swirl_open=True, other_in="washings"
        ),
        "Wash ‘funnel’ with 25 mL of 5 % sodium hydrogencarbonate solution, twice, swirling open "
        "first, then shaking and venting; let settle 2 min each time; keep the upper layer in "
        "‘funnel’; the lower layers go to ‘washings’.",
    ),
    (
        steps.Wash(
            id="1",
            flask="funnel",
            material="soda",
            volume_mL=25,
            portions=2,
            keep="lower",
            keep_in="clean flask",
            other_in="waste",
        ),
        "Wash ‘funnel’ with 25 mL of 5 % sodium hydrogencarbonate solution, twice, shaking and "
        "venting; let settle 2 min each time; keep the lower layer each time, at the end in "
        "‘clean flask’; the upper layers go to waste.",
    ),
    (
        steps.Wash(
            **SHAKE, material="soda", volume_mL=25, vent=False, settle_min=0, other_in="waste"
        ),
        "Wash ‘funnel’ with 25 mL of 5 % sodium hydrogencarbonate solution, shaking without "
        "venting; keep the upper layer in ‘funnel’; the lower layer goes to waste.",
    ),
    (
        steps.Extract(
            id="1",
            flask="aqueous",
            material="light",
            volume_mL=12.5,
            portions=3,
            keep="lower",
            keep_in="extracts",
            other_in="aqueous",
        ),
        "Extract ‘aqueous’ with 12.5 mL of light solvent, three times, shaking and venting; let "
        "settle 2 min each time; combine the lower layers in ‘extracts’; shake the upper layer "
        "again each time; it ends in ‘aqueous’.",
    ),
    (
        steps.Extract(
            id="1",
            flask="aqueous",
            material="light",
            volume_mL=20,
            keep_in="extract",
            other_in="aqueous",
        ),
        "Extract ‘aqueous’ with 20 mL of light solvent, shaking and venting; let settle 2 min; "
        "keep the upper layer in ‘extract’; the lower layer goes to ‘aqueous’.",
    ),
    (
        steps.Separate(**SHAKE, other_in="aqueous", settle_min=180),
        "Separate the layers in ‘funnel’, shaking and venting; let settle 3 h; keep the upper "
        "layer in ‘funnel’; the lower layer goes to ‘aqueous’.",
    ),
    (steps.Cool(id="1", flask="reaction flask"), "Let ‘reaction flask’ cool to 20 °C."),
    (steps.Cool(id="1", flask="pot", to_C=-5), "Cool ‘pot’ to −5 °C in an ice bath."),
    (
        steps.Add(id="1", flask="funnel", material="light", volume_mL=40),
        "Add 40 mL of light solvent to ‘funnel’.",
    ),
    (
        steps.Quench(id="1", flask="pot", material="acid", volume_mL=8.25),
        "Quench ‘pot’ with 8.25 mL of 3 M hydrochloric acid, slowly, in portions, in an ice bath, "
        "with the flask open.",
    ),
    (
        steps.Quench(
            id="1",
            flask="pot",
            material="acid",
            volume_mL=8,
            slowly=False,
            on_ice=False,
            open_flask=False,
        ),
        "Quench ‘pot’ with 8 mL of 3 M hydrochloric acid, in one go, with the flask closed.",
    ),
    (
        steps.Adjust(id="1", flask="A", material="acid", until_pH=2, on_ice=False),
        "Bring ‘A’ to pH 2 with 3 M hydrochloric acid, slowly, in portions.",
    ),
    (
        steps.Combine(id="1", flasks=("a", "b", "c"), into="d"),
        "Pour ‘a’, ‘b’ and ‘c’ together into ‘d’.",
    ),
    (steps.Combine(id="1", flasks=("a", "b"), into="b"), "Pour ‘a’ into ‘b’."),
    (
        steps.Transfer(
            id="1", flask="pot", into="funnel", rinse_with="light", rinse_mL=5, rinses=2
        ),
        "Pour ‘pot’ into ‘funnel’ and rinse it in with 5 mL of light solvent, twice.",
    ),
    (steps.Transfer(id="1", flask="pot", into="funnel"), "Pour ‘pot’ into ‘funnel’."),
    (
        steps.Rinse(id="1", flask="funnel", material="light", volume_mL=5, into="dry flask"),
        "Rinse the emptied ‘funnel’ with 5 mL of light solvent, and add the rinsings to "
        "‘dry flask’.",
    ),
    (
        steps.Dry(id="1", flask="E", agent="grains"),
        "Dry ‘E’ with magnesium sulfate in portions of 0.5 g until the last portion stays loose; "
        "leave for 10 min, swirling now and then.",
    ),
    (
        steps.Dry(id="1", flask="E", agent="grains", endpoint="weighed", mass_g=3, minutes=5),
        "Dry ‘E’ with 3 g of magnesium sulfate; leave for 5 min, swirling now and then.",
    ),
    (
        steps.Filter(id="1", flask="E", into="receiver", rinse_with="light", rinse_mL=5, rinses=1),
        "Filter ‘E’ into ‘receiver’ and rinse the solid with 5 mL of light solvent.",
    ),
    (
        steps.Filter(id="1", flask="E", into="receiver", method="decant"),
        "Decant the liquid from ‘E’ into ‘receiver’.",
    ),
    (
        steps.Collect(
            id="1",
            flask="A",
            into="dish",
            filtrate_in="waste",
            wash_with="acid",
            wash_mL=5,
            washes=3,
            air_dry_min=10080,
        ),
        "Collect the solid from ‘A’ by vacuum filtration; wash it on the filter with 5 mL of 3 M "
        "hydrochloric acid, three times; let it dry in air for 7 days; solid to ‘dish’, filtrate "
        "to waste.",
    ),
    (
        steps.Tare(id="1", flask="receiver"),
        "Weigh ‘receiver’ empty, clean and dry, and record the tare.",
    ),
    (
        steps.Strip(id="1", flask="receiver", pressure_mbar=200),
        "Strip the solvent from ‘receiver’ on the rotary evaporator, bath 40 °C, down to 200 mbar, "
        "hold 5 min after the solvent stops coming.",
    ),
    (
        steps.Strip(id="1", flask="receiver", method="distil", bath_C=60, hold_min=0),
        "Distil the solvent off ‘receiver’, bath 60 °C, at ordinary pressure.",
    ),
    (
        steps.Weigh(id="1", flask="receiver"),
        "Weigh ‘receiver’ with the product, cool and dry outside, twice, to constant mass.",
    ),
    (
        steps.Weigh(id="1", flask="receiver", readings=1),
        "Weigh ‘receiver’ with the product, cool and dry outside.",
    ),
    (
        steps.Discard(id="1", flask="washings"),
        "Pour ‘washings’ into the container for aqueous waste.",
    ),
    (steps.Label(id="1", flask="A", text="acid layer, lower"), "Label ‘A’: “acid layer, lower”."),
    (steps.Test(id="1", flask="A", how="KI-starch"), "Test ‘A’ with KI-starch paper."),
    (
        steps.Triturate(id="1", flask="A", material="light", volume_mL=2, portions=3,
                        liquid_in="liquor"),
        "Triturate ‘A’ with 2 mL of light solvent, three times; stir for 5 min each time; "
        "take the liquid off the solid, to ‘liquor’.",
    ),
    (steps.Stand(id="1", flask="A", minutes=5), "Let ‘A’ stand for 5 min."),
]


@pytest.mark.parametrize(("step", "sentence"), EXPECTED, ids=lambda v: getattr(v, "verb", ""))
def test_a_step_reads_as_a_sentence(step: Step, sentence: str) -> None:
    assert read(step) == sentence


def test_every_kind_of_step_has_an_expected_sentence() -> None:
    assert {step.verb for step, _ in EXPECTED} == set(STEP_KINDS)


def test_every_waste_stream_has_a_title() -> None:
    assert set(STREAM_TITLES) == set(steps.WASTE_STREAMS)


@pytest.mark.parametrize(
    ("step", "heading"),
    [
        (EXPECTED[0][0], "Wash, 5 % sodium hydrogencarbonate solution, 2 × 25 mL"),
        (EXPECTED[4][0], "Extract, light solvent, 20 mL"),
        (steps.Dry(id="1", flask="E", agent="grains"), "Dry, magnesium sulfate"),
        (steps.Tare(id="1", flask="E"), "Tare"),
    ],
)
def test_a_heading_names_the_verb_and_what_it_is_done_with(step: Step, heading: str) -> None:
    assert step_heading(step, EXERCISE).replace(NBSP, " ") == heading


def test_a_number_and_its_unit_are_never_parted_at_the_end_of_a_line() -> None:
    assert f"25{NBSP}mL" in step_sentence(EXPECTED[0][0], EXERCISE)
