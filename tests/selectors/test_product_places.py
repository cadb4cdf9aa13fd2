"""The table of where the product is: what is weighed first, then the losses, the small ones
together, and all of it adding up."""

from dataclasses import replace

import pytest

from workups.chemistry.plan import Extract, Plan, Tare, Weigh
from workups.documents import library_exercise, library_names
from workups.grading.assess import assess
from workups.grading.visibility import ComputedFromHidden, Moment
from workups.selectors.student_findings import product_places

DRAWS = 8


def places(key: str, plan: Plan | None = None):
    exercise = library_exercise(key)
    plan = plan or exercise.model_plan
    found = assess(exercise, plan, draws=DRAWS)
    return product_places(found, plan, Moment.RELEASED, exercise.setup.tables)


@pytest.mark.parametrize("key", library_names())
def test_the_lines_of_a_product_add_up_to_all_of_it(key):
    tables = places(key)
    assert len(tables) == len(library_exercise(key).setup.targets)
    for table in tables:
        assert sum(line.share for line in table.lines) == pytest.approx(1.0, abs=0.002)
        assert table.lines[0].is_weighed
        assert not any(line.is_weighed for line in table.lines[1:])


def test_a_layer_put_aside_stands_with_its_step():
    model = library_exercise("plain-ether").model_plan
    step = next(s for s in model.steps if isinstance(s, Extract))
    [table] = places("plain-ether", model.replacing(replace(step, keep="lower")))
    largest = max(table.lines, key=lambda line: line.share)
    assert largest.step == (model.index(step.id) + 1, "Extract")
    assert largest.how == "put aside with its layer"
    assert largest.words == "100\u00a0%" or largest.words.startswith(("9", "over 99"))


def test_what_no_step_touched_has_no_step():
    plan = Plan((Tare(id="t", flask="vial"), Weigh(id="w", flask="vial")))
    [table] = places("plain-ether", plan)
    assert [(line.place, line.step, line.is_weighed) for line in table.lines] == [
        ("vial", None, True), ("reaction flask", None, False)]


def test_nothing_computed_from_hidden_numbers_is_shown_before_the_release():
    exercise = library_exercise("plain-ether")
    found = assess(exercise, None, draws=DRAWS)
    with pytest.raises(ComputedFromHidden):
        product_places(found, exercise.model_plan, Moment.PLANNING, exercise.setup.tables)
