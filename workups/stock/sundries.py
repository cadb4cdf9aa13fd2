"""Small things that a plan uses: papers, filters, ice baths."""

from dataclasses import dataclass, replace

from workups.chemistry.plan import Plan


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
        for name, use in step.small_things():
            one_more(name, use)
    if any(step.is_on_ice for step in plan.steps):
        counted["ice baths"] = Sundry("ice baths", 1, "cooling")
    return tuple(counted.values())
