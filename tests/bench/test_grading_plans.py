"""The plans that the grading is measured on are what they are called."""

from __future__ import annotations

from workups.documents import library_exercise

from .grading import marking, plans, several_mistakes


def test_every_plan_but_the_model_has_a_mistake_in_it() -> None:
    exercise = library_exercise("plain-ether")
    found = dict(plans(exercise))
    assert found["model"] == exercise.model_plan
    assert len(found) > 5
    assert all(plan != exercise.model_plan for name, plan in found.items() if name != "model")


def test_several_mistakes_change_several_steps() -> None:
    exercise = library_exercise("too-much-vinegar")
    model = {s.id: s for s in exercise.model_plan.steps}
    plan = several_mistakes(exercise)
    different = [s for s in plan.steps if model.get(s.id) != s]
    assert len(different) + len(model) - len(plan.steps) >= 2


def test_marking_is_timed_at_each_size() -> None:
    figure = marking([library_exercise("plain-ether")], 2, sizes=(1, 2))
    assert figure.details.startswith("1: ")
    assert ", 2: " in figure.details
