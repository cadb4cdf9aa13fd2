"""Two schemes held against each other: alike where nothing differs, marked where something does."""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from workups.chemistry.plan import Extract, Parting, Plan, Wash
from workups.documents import library_exercise, library_names
from workups.grading.assess import assess
from workups.grading.assessment import StepReport
from workups.sheets.scheme import Beside, schemes_beside
from workups.sheets.scheme.beside import Side
from workups.words.numbers import NBSP

ETHER = "plain-ether"


@cache
def side(name: str, key: str, plan: Plan) -> Side:
    reports: tuple[StepReport, ...] = assess(library_exercise(key), plan, draws=2).steps
    return Side(name, plan, reports, {})


def beside(key: str, change: Callable[[Plan], Plan]) -> Beside:
    exercise = library_exercise(key)
    one = side("as planned", key, exercise.model_plan)
    return schemes_beside(exercise, one, side("as done", key, change(exercise.model_plan)))


def without(kind: type) -> Callable[[Plan], Plan]:
    def change(plan: Plan) -> Plan:
        first = plan.of(kind)[0]
        return Plan(tuple(s for s in plan.steps if s is not first))
    return change


def other_layer(plan: Plan) -> Plan:
    first = plan.of(Extract)[0]
    return Plan(tuple(replace(s, keep="lower") if s is first else s for s in plan.steps))


@pytest.mark.parametrize("key", library_names())
def test_a_plan_beside_itself_differs_nowhere(key: str) -> None:
    same = beside(key, lambda plan: plan)
    assert same.differences == ()
    assert "◆" not in same.figures[0].svg + same.figures[1].narrow


def test_a_skipped_step_is_marked_where_it_is_missing() -> None:
    found = beside(ETHER, without(Wash))
    assert any(d.where.startswith("Wash") and d.other == "–" for d in found.differences)
    assert "◆ not so as done" in found.figures[0].text
    assert "not so as done" in found.figures[0].svg.replace(NBSP, " ")


def test_the_wrong_layer_is_told_at_its_node_in_both_pictures_and_in_words() -> None:
    found = beside(ETHER, other_layer)
    first = next(d for d in found.differences if d.where.startswith("Extract"))
    assert "product 99" in first.one.replace(NBSP, " ")
    assert "upper layer" in first.one
    assert "lower layer" in first.other
    one, other = (f.text.replace(NBSP, " ") for f in found.figures)
    assert "◆ as done: product 0" in one
    assert "◆ as planned: product 99" in other


def test_names_of_flasks_do_not_matter() -> None:
    def renamed(plan: Plan) -> Plan:
        names = {"ether layer": "flask E"}
        return Plan(tuple(
            replace(s, **{
                name: names.get(value, value) for name, _, value in s.fields()
                if isinstance(value, str)})
            for s in plan.steps))

    assert beside(ETHER, renamed).differences == ()


def test_every_shake_of_the_model_plan_is_found_in_its_alternatives_or_said_to_be_missing() -> None:
    exercise = library_exercise("too-much-vinegar")
    for plan in exercise.alternatives:
        shakes = {(s.verb, s.flask) for s in plan.of(Parting)}
        found = schemes_beside(
            exercise, side("my plan", exercise.key, exercise.model_plan),
            side("another way", exercise.key, plan))
        assert shakes
        assert found.differences
