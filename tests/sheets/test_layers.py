"""The two layers of a step, from the reports before and after it (numbers by hand)."""

import dataclasses

import pytest

from workups.chemistry import plan as steps
from workups.chemistry.plan import Parting, Plan
from workups.chemistry.tables import tables
from workups.grading.assessment import PhaseReport, StepReport
from workups.sheets.funnel import stacked
from workups.sheets.layers import shaken_phases

FUNNEL_ML = 250.0


def phase(flask: str, name: str, volume_mL: float, **mmol: float) -> PhaseReport:
    pH = 3.0 if name == "aqueous" else None
    return PhaseReport(flask, name, volume_mL, 1.0, pH, tuple(mmol.items()))


def report(step: str, top: str, *phases: PhaseReport, fill: float = 0.3) -> StepReport:
    gap = 0.25 if top else None
    return StepReport(step, "wash", top, gap, False, fill, None, phases, ())


WASH = steps.Wash(
    id="w",
    flask="ether",
    keep="upper",
    keep_in="ether",
    other_in="washings",
    material="water",
    volume_mL=30,
    portions=2,
)
EXTRACT = steps.Extract(
    id="e",
    flask="water layer",
    keep="lower",
    keep_in="extracts",
    other_in="water layer",
    material="dichloromethane",
    volume_mL=15,
    portions=3,
)
BEFORE = report(
    "b",
    "",
    phase("ether", "organic", 48, acid=20),
    phase("washings", "aqueous", 36, acid=60),
    phase("extracts", "organic", 5, acid=1),
)


def layers(step: Parting, after: StepReport) -> list[tuple[str, float, dict[str, float]]]:
    found = shaken_phases(Plan((step,)), [BEFORE, after], step.id, FUNNEL_ML)
    return [(p.phase, p.volume_mL, dict(p.amounts_mmol)) for p in found]


def test_washings_are_what_the_flask_gained_by_portion() -> None:
    after = report(
        "w",
        "organic",
        phase("ether", "organic", 45, acid=4),
        phase("washings", "aqueous", 98, acid=76),
    )
    # 98 - 36 = 62 mL in two portions; 76 - 60 = 16 mmol in both together.
    assert layers(WASH, after) == [("organic", 45, {"acid": 4}), ("aqueous", 31, {"acid": 16})]


def test_extracts_are_pooled_and_the_other_layer_stays_whole() -> None:
    after = report(
        "e",
        "aqueous",
        phase("extracts", "organic", 50, acid=16),
        phase("water layer", "aqueous", 60, acid=5),
    )
    assert layers(EXTRACT, after) == [("organic", 15, {"acid": 15}), ("aqueous", 60, {"acid": 5})]


def test_a_layer_poured_into_the_waste_holds_what_the_kept_one_does_not() -> None:
    step = dataclasses.replace(WASH, other_in="waste", portions=1)
    after = report("w", "organic", phase("ether", "organic", 45, acid=4))
    found = shaken_phases(Plan((step,)), [BEFORE, after], "w", FUNNEL_ML)
    # 0.3 of 250 mL is 75 mL, of which 45 are the organic layer; 0.25 g/mL heavier than it;
    # 20 mmol of acid were in the flask, 4 stayed.
    assert (found[1].phase, found[1].volume_mL) == ("aqueous", pytest.approx(30))
    assert found[1].density_g_mL == pytest.approx(1.25)
    assert found[1].amounts_mmol == (("acid", 16),)


def test_shares_are_left_out_where_one_layer_is_not_known() -> None:
    step = dataclasses.replace(WASH, other_in="waste", portions=1)
    after = report("w", "organic", phase("ether", "organic", 45, acid=4))
    found = shaken_phases(Plan((step,)), [after], "w", FUNNEL_ML)
    assert [layer.shares for layer in stacked(found, "organic", tables())] == [(), ()]


def test_the_water_layer_has_the_pH_of_the_last_shake() -> None:
    after = report(
        "w",
        "organic",
        phase("ether", "organic", 45, acid=4),
        phase("washings", "aqueous", 98, acid=76),
    )
    found = shaken_phases(
        Plan((WASH,)), [BEFORE, dataclasses.replace(after, pH=5.5)], "w", FUNNEL_ML
    )
    assert [p.pH for p in found] == [None, 5.5]


def test_keeping_the_wrong_layer_shows_the_layer_that_was_kept() -> None:
    step = dataclasses.replace(WASH, keep="lower", keep_in="kept", other_in="lost", portions=1)
    after = report(
        "w", "organic", phase("kept", "aqueous", 31, acid=16), phase("lost", "organic", 45, acid=4)
    )
    assert layers(step, after) == [("aqueous", 31, {"acid": 16}), ("organic", 45, {"acid": 4})]


def test_one_layer_only_is_drawn_alone() -> None:
    after = report("w", "", phase("ether", "organic", 60, acid=20))
    assert layers(WASH, after) == [("organic", 60, {"acid": 20})]


def test_a_step_that_shakes_nothing_has_no_layers() -> None:
    tare = steps.Tare(id="t", flask="receiver")
    with pytest.raises(ValueError, match="no layers to draw"):
        shaken_phases(Plan((tare,)), [report("t", "")], "t", FUNNEL_ML)


def test_an_unknown_step_has_no_layers() -> None:
    with pytest.raises(ValueError, match="no layers to draw"):
        shaken_phases(Plan((WASH,)), [BEFORE], "nothing", FUNNEL_ML)
