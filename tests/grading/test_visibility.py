"""What a student is told of a check before the lock agrees with the points that come of it."""

from dataclasses import replace

from workups.chemistry.plan import Plan, Wash
from workups.documents import library_exercise
from workups.exercise.exercise import Exercise, FeedbackPolicy
from workups.exercise.public import public_exercise
from workups.grading.assess import assess
from workups.grading.visibility import Moment, ShownCheck, shown_checks

from .stories import STORIES

ETHER = public_exercise(library_exercise("plain-ether"))


def shown(exercise: Exercise, plan: Plan) -> dict[str, ShownCheck]:
    result = replace(assess(exercise, plan, draws=8), public_numbers=True)
    return {c.name: c for c in shown_checks(result, FeedbackPolicy(), Moment.PLANNING)}


def test_a_remark_that_costs_no_tenth_of_a_point_leaves_its_check_met() -> None:
    """The other layer called "kept", and the right one carried on in one portion of 40 mL: a funnel
    75 % full was "not yet" before the lock and 15.0 of 15 after it."""
    plan = next(s for s in STORIES if s.key == "other-layer-called-kept").plan
    safety = shown(ETHER, plan)["layers_safety"]
    assert [f.code for f in safety.findings] == ["funnel-too-full"]
    assert safety.met


def test_a_check_with_a_hold_is_not_met() -> None:
    """A wash and nothing else: the flask is not there. The hold takes no points, and "layers and
    safety" was met beside it."""
    wash = next(s for s in ETHER.model_plan.steps if isinstance(s, Wash))
    safety = shown(ETHER, Plan((wash,)))["layers_safety"]
    assert [f.code for f in safety.findings] == ["cannot-be-carried-out"]
    assert safety.met is False


def test_a_check_that_loses_points_is_not_met() -> None:
    plan = next(s for s in STORIES if s.key == "filter-forgotten").plan
    assert {name: c.met for name, c in shown(ETHER, plan).items() if name != "reagent_table"} == {
        "order": False, "extraction": False, "drying": False, "layers_safety": True}
