"""An invented ester workup, its plan, record and assessment, written out by hand.

The numbers are plausible, chosen so that sums can be checked by head; none is computed.
"""

from __future__ import annotations

import pytest

from workups.chemistry import plan as steps
from workups.chemistry.plan import Plan
from workups.chemistry.readings import (
    DoneStep,
    DryingRecord,
    Readings,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.chemistry.setup import Glassware, Product, Reaction, Reagent, Setup, Spread, Target
from workups.exercise.exercise import Exercise, Texts
from workups.grading.assessment import (
    Assessment,
    Band,
    CheckResult,
    CurvePoint,
    ExpectedTarget,
    Finding,
    GasReport,
    Hypothesis,
    Number,
    PhaseReport,
    StepReport,
    Strength,
    TargetYield,
    TrailShare,
)

FUNNEL = "funnel"
TARGET = "hexyl_acetate"


def make_plan() -> Plan:
    shake = {"flask": FUNNEL, "keep": "upper", "keep_in": FUNNEL, "other_in": "washings"}
    return Plan(
        (
            steps.Cool(id="s1", flask="reaction flask"),
            steps.Transfer(
                id="s2",
                flask="reaction flask",
                into=FUNNEL,
                rinse_with="mtbe",
                rinse_mL=10,
                rinses=1,
            ),
            steps.Add(id="s3", flask=FUNNEL, material="mtbe", volume_mL=30),
            steps.Wash(id="s4", **shake, material="water", volume_mL=30, portions=2),
            steps.Wash(
                id="s5",
                **shake,
                material="nahco3_5pct",
                volume_mL=25,
                portions=2,
                swirl_open=True,
                note="Ask before stoppering.",
            ),
            steps.Wash(id="s6", **shake, material="brine", volume_mL=20),
            steps.Transfer(id="s7", flask=FUNNEL, into="drying flask"),
            steps.Dry(id="s8", flask="drying flask", agent="magnesium_sulfate", mass_g=1.0),
            steps.Tare(id="s9", flask="receiver"),
            steps.Filter(
                id="s10",
                flask="drying flask",
                into="receiver",
                rinse_with="mtbe",
                rinse_mL=5,
                rinses=2,
            ),
            steps.Strip(id="s11", flask="receiver", pressure_mbar=250),
            steps.Weigh(id="s12", flask="receiver", readings=3),
            steps.Discard(id="s13", flask="washings", stream="aqueous"),
        )
    )


def make_exercise() -> Exercise:
    reaction = Reaction(
        reagents=(
            Reagent("1_hexanol", "starting material", 1, mass_g=5.11),
            Reagent("acetic_acid", "reagent", 1, mass_g=9.01),
            Reagent("sulfuric_acid", "catalyst", 0, volume_mL=0.5, staff_dispensed=True),
        ),
        products=(Product(TARGET),),
        conversion=Spread(0.86, 0.90, 0.92),
    )
    return Exercise(
        key="too-much-vinegar",
        title="Too much vinegar: hexyl acetate",
        setup=Setup(
            reaction,
            (Target(TARGET, flask="receiver"),),
            ("water", "mtbe", "nahco3_5pct", "naoh_1m", "brine", "magnesium_sulfate"),
            glassware=Glassware(funnel_mL=250, balance_readability_g=0.01),
        ),
        model_plan=make_plan(),
        texts=Texts(cautions=("The catalyst is concentrated sulfuric acid; staff dispense it.",)),
    )


def make_readings() -> Readings:
    plan = make_plan()
    done = [DoneStep(step, "done") for step in plan.steps]
    wash = plan.steps[4]
    assert isinstance(wash, steps.Wash)
    done[4] = DoneStep(
        steps.Wash(
            id="s5",
            flask=FUNNEL,
            keep="upper",
            keep_in=FUNNEL,
            other_in="washings",
            material=wash.material,
            volume_mL=25,
            portions=1,
            swirl_open=True,
        ),
        "changed",
        remark="Ran out of bench solution.",
    )
    done[7] = DoneStep(plan.steps[7], "done", remark="Took a second spatula.")
    return Readings(
        steps=tuple(done),
        reagents={"1_hexanol": 5.08, "acetic_acid": 9.05},
        targets={
            TARGET: TargetReadings(
                weighings=(
                    Weighing("tare", 52.31, "14", "B2", 0.01),
                    Weighing("gross", 58.30, "14", "B2", 0.01, ("flask",), 141.0),
                    Weighing("gross", 58.24, "14", "B2", 0.01, ("flask", "cork ring"), 152.0),
                    Weighing("gross", 58.23, "14", "B2", 0.01, ("flask",), 158.0),
                ),
                witnesses=(
                    Witness("odour", "pear drops", agrees=True),
                    Witness("IR", "1740 strong, small 3400", agrees=None),
                ),
                explanation="I lost a little when the stopper dripped.",
            )
        },
        drying=(DryingRecord("s8", 2.1, 2, "free-flowing", "clear", 12),),
    )


def share(place: str, phase: str, value: float) -> TrailShare:
    return TrailShare(TARGET, place, phase, value, 6.49 * value)


WATER_WASH = StepReport(
    step="s4",
    verb="wash",
    top="organic",
    density_difference_g_mL=0.22,
    may_invert=False,
    funnel_fill=0.34,
    gas=None,
    phases=(
        PhaseReport(
            FUNNEL,
            "organic",
            49.0,
            0.79,
            None,
            (
                (TARGET, 44.5),
                ("1_hexanol", 4.6),
                ("acetic_acid", 15.0),
                ("mtbe", 330.0),
                ("water", 30.0),
            ),
        ),
        PhaseReport(
            "washings",
            "aqueous",
            62.0,
            1.01,
            2.4,
            (("acetic_acid", 85.0), (TARGET, 0.5), ("1_hexanol", 0.3), ("water", 3300.0)),
        ),
    ),
    trail=(
        share(FUNNEL, "organic", 0.96),
        share("washings", "aqueous", 0.01),
        share("glass", "", 0.03),
    ),
)

CARBONATE_WASH = StepReport(
    step="s5",
    verb="wash",
    top="organic",
    density_difference_g_mL=0.02,
    may_invert=True,
    funnel_fill=0.31,
    gas=GasReport(14.0, 336.0, 610.0, 395.0, 176.0, 75.0),
    phases=(
        PhaseReport(
            FUNNEL,
            "organic",
            47.0,
            0.78,
            None,
            ((TARGET, 44.2), ("1_hexanol", 4.5), ("acetic_acid", 0.4)),
        ),
        PhaseReport("washings", "aqueous", 51.0, 1.03, 7.4, (("acetic_acid", 14.6), (TARGET, 0.3))),
    ),
    trail=(
        share(FUNNEL, "organic", 0.95),
        share("washings", "aqueous", 0.015),
        share("glass", "", 0.035),
    ),
)

FILTERED = StepReport(
    step="s10",
    verb="filter",
    top="",
    density_difference_g_mL=None,
    may_invert=False,
    funnel_fill=None,
    gas=None,
    phases=(PhaseReport("receiver", "organic", 55.0, 0.77, None, ((TARGET, 43.2),)),),
    trail=(
        share("receiver", "organic", 0.925),
        share("washings", "aqueous", 0.015),
        share("glass", "", 0.04),
        share("drying flask", "solid", 0.02),
    ),
)

STRIPPED = StepReport(
    step="s11",
    verb="strip",
    top="",
    density_difference_g_mL=None,
    may_invert=False,
    funnel_fill=None,
    gas=None,
    phases=(PhaseReport("receiver", "organic", 7.1, 0.87, None, ((TARGET, 42.8),)),),
    trail=(
        share("receiver", "organic", 0.915),
        share("washings", "aqueous", 0.015),
        share("glass", "", 0.04),
        share("drying flask", "solid", 0.02),
        share("air", "", 0.01),
    ),
)


def make_assessment() -> Assessment:
    curve = tuple(
        CurvePoint(n, 1 - 0.25 / n**1.5, 1 - 0.31 / n**1.5, 1 - 0.19 / n**1.5) for n in range(1, 7)
    )
    portion = tuple(CurvePoint(n, 1 - 0.25**n, 1 - 0.31**n, 1 - 0.19**n) for n in range(1, 7))
    expected = ExpectedTarget(
        TARGET,
        "hexyl acetate",
        7.21,
        Band(6.31, 5.88, 6.62),
        Band(6.25, 5.80, 6.58),
        Band(0.951, 0.930, 0.968, ""),
        0.95,
        curve,
        portion,
        ((TARGET, 6.05), ("1_hexanol", 0.17), ("mtbe", 0.02), ("water", 0.01)),
    )
    finding = Finding(
        code="acid-left",
        check="order",
        strength=Strength.ADVICE,
        step="s5",
        message="One portion leaves 6 % of the acetic acid in the organic layer.",
        change="Shake with a second portion and test the last washing with pH paper.",
        why="The first portion runs out before all of the acid has reacted.",
        source="computed",
        numbers=(
            Number("acid left", 0.06, "", 0.04, 0.09),
            Number("acid left", 0.9, "mmol", 0.6, 1.3),
        ),
        cause="acid-left",
        score_loss=0.1,
    )
    return Assessment(
        engine="1",
        exercise="too-much-vinegar",
        seed=1,
        draws=400,
        expected=(expected,),
        steps=(WATER_WASH, CARBONATE_WASH, FILTERED, STRIPPED),
        checks=(
            CheckResult("order", 0.9, 22.5, 25.0, (finding,)),
            CheckResult("extraction", 1.0, 20.0, 20.0),
            CheckResult("drying", 0.95, 19.0, 20.0, note="Bench part recorded."),
            CheckResult("yield", 1.0, 10.0, 10.0),
        ),
        readings=(
            TargetYield(
                TARGET,
                5.925,
                0.0154,
                7.17,
                82.6,
                0.31,
                True,
                "inside",
                "inside",
                Band(6.12, 5.70, 6.45),
            ),
        ),
        diagnosis=(
            Hypothesis(
                "nothing-wrong",
                "Nothing wrong",
                0.71,
                ("The mass lies inside the band.",),
                "What did it smell of?",
            ),
        ),
    )


@pytest.fixture
def exercise() -> Exercise:
    return make_exercise()


@pytest.fixture
def plan() -> Plan:
    return make_plan()


@pytest.fixture
def readings() -> Readings:
    return make_readings()


@pytest.fixture
def assessment() -> Assessment:
    return make_assessment()
