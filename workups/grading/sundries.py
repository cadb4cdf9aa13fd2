"""Small things that a plan uses: papers, filters, ice baths."""

from __future__ import annotations

from dataclasses import dataclass, replace

from workups.chemistry.plan import Adjust, Collect, Cool, Filter, Plan, Step

_PAPERS = {
    "pH paper": "strips of pH paper",
    "KI-starch": "strips of KI-starch paper",
    "TLC": "TLC plates",
}
_ICE_BELOW_C = 15.0


@dataclass(frozen=True)
class Sundry:
    """A small thing that is counted, such as papers; ``use`` says what for."""

    name: str
    count: int
    use: str = ""


def sundries_of(plan: Plan) -> tuple[Sundry, ...]:
    """Papers, cotton wool and ice baths that one student's plan uses; counts: common practice."""
    counted: dict[str, Sundry] = {}

    def one_more(name: str, use: str) -> None:
        before = counted.get(name, Sundry(name, 0, use))
        counted[name] = replace(before, count=before.count + 1)

    for step in plan.steps:
        if step.verb == "test" and (paper := _PAPERS.get(getattr(step, "how", ""))):
            one_more(paper, "tests")
        if isinstance(step, Adjust):
            one_more(_PAPERS["pH paper"], "tests")
        if isinstance(step, Filter):
            decanted = step.method == "decant"
            one_more("cotton wool, plugs" if decanted else "fluted filter papers", "drying agent")
        if isinstance(step, Collect):
            one_more("suction filters with papers", "solids")
    if any(_is_on_ice(step) for step in plan.steps):
        counted["ice baths"] = Sundry("ice baths", 1, "cooling")
    return tuple(counted.values())


def _is_on_ice(step: Step) -> bool:
    cooled = isinstance(step, Cool) and step.to_C < _ICE_BELOW_C
    return cooled or bool(getattr(step, "on_ice", False))
