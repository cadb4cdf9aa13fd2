"""No published workup is accused: procedures from the open literature, written down before any
of them was assessed, by someone who did not know the rules' code.

Each file under ``tests/data/procedures`` names its publication, says what was read of it and what
had to be assumed, and which substances of the tables stand in for the real ones.
"""

from pathlib import Path

import pytest

from tests.long import IS_LONG
from workups.chemistry.plan import Dry
from workups.documents import check_plan, load_exercise
from workups.grading.assess import assess

from .plans import SPELLINGS, dice_of, on_an_edge

PROCEDURES = Path(__file__).parents[1] / "data" / "procedures"
NAMES = sorted(path.stem for path in PROCEDURES.glob("*.toml"))
CONDEMNING = {"product loss", "safety hold"}
DRAWS = 24
SPELT_AS = 3


def procedure(name):
    return load_exercise((PROCEDURES / f"{name}.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module", params=NAMES)
def assessed(request):
    return assess(procedure(request.param))


def test_nothing_published_is_said_to_lose_the_product_or_to_be_unsafe(assessed):
    accusations = [(f.code, f.step, f.message) for check in assessed.checks
                   for f in check.findings if str(f.strength) in CONDEMNING]
    assert accusations == []
    assert assessed.safety_holds == ()


def test_nothing_published_loses_a_point(assessed):
    """But for a funnel that is fuller than it is filled in a teaching laboratory: its size is
    ours."""
    charged = [(f.code, f.step, f.message) for check in assessed.checks
               for f in check.findings if f.charged and f.code != "funnel-too-full"]
    assert charged == []
    assert all(check.score == 1.0 for check in assessed.checks if check.name != "layers_safety")
    assert assessed.unrounded > 0.98 * assessed.out_of


def respellings(exercise):
    """Three ways to write the same procedure, drawn by its name; none that has a shake on the edge
    of one layer and two, where the film of one more pouring decides."""
    dice = dice_of(sum(map(ord, exercise.key)))
    plans = (SPELLINGS[name](exercise.model_plan, exercise, dice)
             for name in dice.sample(sorted(SPELLINGS), len(SPELLINGS)))
    changed = [p for p in plans if p not in (None, exercise.model_plan)
               and check_plan(p, exercise) == []
               and not on_an_edge(exercise, exercise.model_plan, p, DRAWS)]
    return changed[:SPELT_AS]


@pytest.mark.timeout(900)
@pytest.mark.parametrize("name", NAMES if IS_LONG else NAMES[::6])
def test_a_published_procedure_written_otherwise_is_not_accused_either(name):
    exercise = procedure(name)
    spelt = respellings(exercise)
    assert len(spelt) == SPELT_AS
    as_published = assess(exercise, draws=DRAWS)
    for plan in spelt:
        result = assess(exercise, plan, draws=DRAWS)
        accusations = [(f.code, f.step) for check in result.checks for f in check.findings
                       if str(f.strength) in CONDEMNING]
        assert accusations == [], plan
        assert result.unrounded == pytest.approx(as_published.unrounded, abs=0.1), plan


@pytest.mark.parametrize("name", NAMES)
def test_every_procedure_can_be_carried_out_as_written_and_names_its_source(name):
    exercise = procedure(name)
    assert exercise.key == name
    assert check_plan(exercise.model_plan, exercise) == []
    assert any("read" in source for source in exercise.sources)
    assert any(source.startswith("Assumed") for source in exercise.sources)


def test_the_procedures_cover_the_common_ways_of_working_up():
    exercises = [procedure(name) for name in NAMES]
    used = {material for e in exercises for material in e.setup.materials}
    charged = {r.substance for e in exercises for r in e.setup.reaction.reagents}
    targets = {t.substance for e in exercises for t in e.setup.targets}
    plans = [e.model_plan.steps for e in exercises]
    assert len(exercises) >= 40
    assert {"diethyl_ether", "ethyl_acetate", "dichloromethane", "mtbe", "toluene"} <= used
    assert {"hcl_1m", "naoh_1m", "nahco3_sat", "nahco3_5pct", "nh4cl_sat", "brine"} <= used
    agents = {step.agent for steps in plans for step in steps if isinstance(step, Dry)}
    assert {"magnesium_sulfate", "sodium_sulfate", "calcium_chloride",
            "potassium_carbonate"} <= agents
    assert {"tetrahydrofuran", "methanol"} <= charged
    assert {"benzoic_acid", "dibenzylamine", "n_n_dimethylbenzylamine"} <= targets
    assert any(not any(isinstance(s, Dry) for s in steps) for steps in plans)
    assert any(all(getattr(s, "material", "") != "brine" for s in steps) for steps in plans)
