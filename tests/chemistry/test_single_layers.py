"""Where a single layer goes: with the like of it at the shake before, as the hand would pour it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.measures import place_shares
from workups.chemistry.plan import Extract, Parting, Plan, Wash
from workups.chemistry.run import simulate
from workups.documents import library_exercise, library_names, load_exercise

PUBLISHED = (Path(__file__).parents[1] / "data" / "procedures"
             / "borohydride-ethanol-no-wash.toml")
OTHER = {"upper": "lower", "lower": "upper"}


def _first(plan: Plan, kind: type[Parting]) -> Parting:
    return next(s for s in plan.steps if isinstance(s, kind))


@pytest.mark.parametrize("key", ["plain-ether", "catch-it", "bottom-layer", "clinging-solvent"])
@pytest.mark.parametrize("portions", [1, 2, 3])
def test_the_wrong_layer_kept_takes_the_product_nowhere_but_aside(key: str, portions: int) -> None:
    """All that solvent extracted is in the flask for the other layer, however many portions: a
    second portion that meets solvent makes one layer, and that stays with the solvent."""
    exercise = library_exercise(key)
    step = _first(exercise.model_plan, Extract)
    right = dataclasses.replace(step, portions=1, other_in="other flask")
    wrong = dataclasses.replace(
        right, portions=portions, keep=OTHER[step.keep], keep_in="kept flask")
    before = exercise.model_plan.steps[: exercise.model_plan.index(step.id)]
    target = exercise.setup.targets[0].substance

    def shares(last: Parting) -> dict[str, float]:
        run = simulate(Plan((*before, last)), exercise.setup, Draws(1, 1))
        found: dict[str, float] = {}
        for (place, _), share in place_shares(run, run.end, target).items():
            found[place] = found.get(place, 0.0) + float(share[0])
        return found

    extracted = shares(right)[step.keep_in]
    assert shares(wrong)["other flask"] >= extracted - 0.01
    assert shares(wrong)["kept flask"] <= 1.0 - extracted + 0.01


def test_the_report_says_where_a_single_layer_stays() -> None:
    exercise = library_exercise("plain-ether")
    step = _first(exercise.model_plan, Extract)
    wrong = dataclasses.replace(step, portions=2, keep=OTHER[step.keep])
    before = exercise.model_plan.steps[: exercise.model_plan.index(step.id)]
    facts = simulate(Plan((*before, wrong)), exercise.setup, Draws(1, 1)).outcome(step.id).facts
    assert [float(s.two_layers[0]) for s in facts.shakes] == [1.0, 0.0]
    assert facts.problems == (
        "one layer only from portion 2 on: it stays with the layer not kept",)


def test_the_report_says_where_one_layer_and_two_are_about_as_likely() -> None:
    """Hydride quenched in ethanol: the last 2 mL of water go into the third portion in a few draws
    and not in others. Nothing is said of the shakes that are sure to make two layers."""
    exercise = load_exercise(PUBLISHED.read_text(encoding="utf-8"))
    run = simulate(exercise.model_plan, exercise.setup, Draws(1, 48))
    [step] = [s for s in exercise.model_plan.steps if isinstance(s, Extract)]
    single = [float((s.two_layers == 0).mean()) for s in run.outcome(step.id).facts.shakes]
    assert single[:2] == [0.0, 0.0]
    assert 0.05 < single[2] < 0.5
    [said] = run.outcome(step.id).facts.problems
    assert said.startswith("on the edge of one layer and two at portion 3: ")
    assert f"in {100 * single[2]:.0f} of 100 cases" in said
    sure = library_exercise("plain-ether")
    assert [o.facts.problems for o in simulate(sure.model_plan, sure.setup, Draws(1, 48)).outcomes
            if o.facts.problems] == []


def test_a_first_shake_with_one_layer_loses_nothing() -> None:
    """Washing a solvent layer with solvent leaves it in the funnel, to be kept."""
    kept = [share for key in library_names() for share in _kept_of_one_layer(key)]
    assert len(kept) >= 5
    assert min(kept) > 0.98


def _kept_of_one_layer(key: str) -> list[float]:
    """Share of the product kept when the first washed layer is shaken with solvent instead; none
    where a second layer stands in that flask."""
    exercise = library_exercise(key)
    solvent = next((m for m in exercise.setup.materials if m in exercise.setup.tables.solvents), "")
    step = next((s for s in exercise.model_plan.steps if isinstance(s, Wash)), None)
    if not solvent or step is None:
        return []
    at = exercise.model_plan.index(step.id)
    odd = dataclasses.replace(step, id="odd", material=solvent, portions=1, keep_in=step.flask,
                              volume_mL=10.0)
    run = simulate(Plan((*exercise.model_plan.steps[:at], odd)), exercise.setup, Draws(1, 1))
    if run.outcomes[-1].facts.shakes[0].two_layers[0] > 0:
        return []
    row = run.inventory.index[exercise.setup.targets[0].substance]
    had = float(run.before(at).flasks[step.flask].total()[row, 0])
    return [float(run.end.flasks[step.flask].total()[row, 0]) / had]
