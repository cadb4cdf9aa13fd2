"""Every planted mistake times the library exercises it applies to: the right rule names it.

By default a few exercises, and of three in one bottle only what applies to no other of them; every
one with LONG_TESTS=1 (see ``.ci/long``). At least 95 % of those
that matter in each exercise; one that does nothing is never called heavy.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from tests.long import IS_LONG, exercises
from workups.documents import library_exercise, library_names
from workups.grading.assess import assess
from workups.grading.assessment import Finding
from workups.invented_students.mistakes import planning_mistakes

from .catalogue import (
    MISTAKES,
    Mistake,
    Planted,
    agent_short,
    always,
    below_goal,
    brine_asked_for,
    carbonate_overtaxed,
    held_by_agent,
    loses,
    model_case,
    planted,
    weighs_more,
)
from .planted import HEAVY, findings

DRAWS = 24
ENOUGH = 0.95

# What the mistakes of the demo courses should be called, and when they matter.
OF_THE_DEMO = {
    "water-wash-skipped": ("carbonate-before-water", carbonate_overtaxed),
    "brine-early": ("brine-not-last", brine_asked_for(always)),
    "too-little-agent": ("too-little-agent", agent_short),
    "no-agent": ("not-dried", always),
    # Without the venting either: where there is little gas, it is the solvent's vapour.
    "carbonate-stoppered": ("carbonate-stoppered not-vented", always),
    "no-rinse": ("cake-not-rinsed", held_by_agent(0.01)),
    "not-tared": ("flask-not-tared", always),
    "not-labelled": ("not-labelled", always),
    "one-portion": ("recovery-below-goal", below_goal),
    "agent-not-filtered": ("agent-not-filtered", always),
    "no-hold-at-the-end": ("solvent-left", weighs_more("solvent", 0.02)),
    "stripped-hard": ("product-boiled-off", loses(0.10)),
    "wrong-layer": ("product-layer-put-aside", loses(0.10)),
}


@dataclass(frozen=True)
class Row:
    """One mistake in one exercise and what the assessment said."""

    planted: Planted
    found: tuple[Finding, ...]

    @property
    def caught(self) -> bool:
        """Whether a rule that should name it does, as a cause of its own."""
        return any(f.code in self.planted.mistake.rules and f.cause == f"{f.code}:{f.step}"
                   for f in self.found)

    @property
    def heavy(self) -> list[str]:
        """Rules that call it a product loss or hold the plan for a TA."""
        return [f.code for f in self.found if f.strength in HEAVY]

    def __str__(self) -> str:
        mistake = self.planted.mistake
        state = "harmless" if not self.planted.matters else "caught" if self.caught else "MISSED"
        said = ", ".join(sorted({f.code for f in self.found})) or "nothing"
        return (f"{self.planted.exercise.key:22} {mistake.number:>4} {mistake.name:36} {state:9}"
                f"wanted {' or '.join(sorted(mistake.rules))}; said {said}")


def _of_the_demo(name: str) -> list[Planted]:
    exercise = library_exercise(name)
    model = model_case(exercise)
    rows = []
    for short, plan in planning_mistakes(exercise).items():
        code, matters = OF_THE_DEMO[short]
        mistake = Mistake("demo", short, lambda _case: None, frozenset(code.split()), matters)
        rows.append(Planted(mistake, exercise, plan, matters(model, model.changed(plan))))
    return rows


def _elsewhere(name: str) -> set[str]:
    """The mistakes that need not be planted in this exercise, as another one has them."""
    if IS_LONG or name != "three-in-one-bottle":
        return set()
    others = [n for n in exercises(library_names()) if n != name]
    return {p.mistake.name for other in others for p in planted(library_exercise(other))}


def rows(name: str) -> list[Row]:
    """The mistakes in one exercise, assessed."""
    spared = _elsewhere(name)
    whole = [p for p in planted(library_exercise(name)) if p.mistake.name not in spared]
    if not spared:
        whole += _of_the_demo(name)
    return [Row(p, tuple(findings(assess(p.exercise, p.plan, draws=DRAWS)))) for p in whole]


def _table(found: list[Row]) -> str:
    return "\n" + "\n".join(str(r) for r in found)


@pytest.mark.timeout(300)
@pytest.mark.parametrize("name", exercises(library_names()))
def test_planted_mistakes_are_named_by_the_right_rule(name: str) -> None:
    found = rows(name)
    matter = [r for r in found if r.planted.matters]
    caught = [r for r in matter if r.caught]
    assert len(matter) >= (5 if _elsewhere(name) else 25)
    assert len(caught) >= ENOUGH * len(matter), _table(found)
    wrong = [r for r in found if not r.planted.matters and r.heavy]
    assert wrong == [], _table(wrong)


def test_every_mistake_applies_to_some_exercise() -> None:
    applied = {p.mistake.name for name in exercises(library_names())
               for p in planted(library_exercise(name))}
    assert applied == {m.name for m in MISTAKES}
