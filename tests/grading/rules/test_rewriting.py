"""Changed plans still say where each layer stands."""

from __future__ import annotations

from workups.grading.rules.rewriting import without_wash

from .labs import library


def test_without_a_wash_the_next_one_puts_the_layer_where_the_plan_looks_for_it() -> None:
    plan = library("slow-to-leave").plan
    washed = plan.steps[plan.index("wash-base")]
    rest = without_wash(plan, washed)
    where = {s.id: getattr(s, "flask", "") for s in rest.steps}
    assert where["wash-water"] == "reaction flask"
    assert where["label-organic"] == "reaction flask"
    assert where["wash-brine"] == where["dry"] == where["filter"] == "organic layer"
