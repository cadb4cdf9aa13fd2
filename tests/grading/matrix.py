"""Every planted mistake in every exercise and published procedure, beside what it should cost.

A row is a right route with one mistake: which findings may name it (any that is charged, where no
rule has to), the least and the most points of 90 it may cost, and the size of the loss as the
tests' own scalar simulation computes it (``tests/chemistry/scalar``, which shares no code with the
program). The bounds follow from that size and from nothing that the grading says:

* product: a fair marker takes about 75 points for all of it and in step for a part, so a loss of a
  share L must cost from 36 (L - 3 %) to 110 L and a slip's worth of points more. At least that
  where no right route of the exercise loses as much, and of too little extraction only what is
  beyond the recovery goal that the exercise itself calls enough;
* foreign matter: from 15 (F - 3 %) to 80 F for a mass fraction F beyond what the right route
  leaves;
* a workup that is undone: where a share U of what the right route takes out of the reaction mixture
  is weighed with the product after all, it may cost up to 75 U. Nothing was isolated, however
  little it weighs: who only boils the mixture down has done none of the work. What parts no layers
  at all must cost half of the points of the product;
* what costs no product (safety, bookkeeping, drying): from the least that a marker takes for it.

The product loss that the program states is held against the scalar one within a factor of two.
Beside the mistakes stand right routes written otherwise, which must cost nothing.

``python -m tests.grading.matrix [--sample N] [exercise ...]`` prints the misses.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import TypeVar

from tests.chemistry.scalar.constants import brought_along, by_key, counted_mass, is_substance
from tests.chemistry.scalar.simulate import simulate as simulate_scalar
from workups.chemistry.conservation import NotConserved
from workups.chemistry.plan import START_FLASK, Plan, Strip, Transfer, Weigh
from workups.chemistry.practice import PRACTICE, practice_value
from workups.documents import check_plan
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment

from .catalogue import MISTAKES, Mistake, model_case
from .contradictions import contradictions
from .losses import LOSSES
from .plans import MORE_FLASKS, SPELLINGS, dice_of, every_exercise
from .planted import findings

T = TypeVar("T")
DRAWS = 24
OUT_OF = 90.0
SMALLEST_LOSS = 0.03
UNAVOIDABLE = 0.03
SAME_POINTS = 0.1
SLIP = 15.0
FILM_POINTS = 2.0
LEAST_TAKEN_OUT = 0.02
PRODUCT_POINTS = 75.0
EXTRACTED_LESS = frozenset({
    "one portion, same total", "one portion of several", "an extract forgotten",
    "a tenth of the solvent"})

# All that safety can be worth; a plan that never vents has earned none of it.
SAFETY_POINTS = 30.0
# Made to one flask, where there may be several with a product each.
OF_ONE_PRODUCT = frozenset({
    "never stripped", "not filtered", "never weighed", "weighed before stripping"})
SAFETY = frozenset({"not vented", "carbonate stoppered", "warm into the funnel"})

# What a marker takes at the least where no product is lost, by the mistake's name.
FLOORS = {
    "not vented": 2.0,
    "carbonate stoppered": 2.0,
    "warm into the funnel": 2.0,
    "acid poured in fast": 1.0,
    "no tare": 4.0,
    "never weighed": 20.0,
    "weighed before stripping": 15.0,
    "never stripped": 15.0,
    "not filtered": 12.0,
    "no drying agent": 2.0,
    "no drying agent, the last": 1.0,
    "a pinch of agent": 1.0,
    "half a minute over the agent": 0.3,
    "dried before the last wash": 2.0,
    "agent into the water layer": 5.0,
    "stops before the weighing": 15.0,
    "stripped without parting": 36.0,
}


@dataclass(frozen=True)
class Effect:
    """What is weighed: share (0..1) of the targets that is there, mass fraction that is foreign,
    and g of what does not boil off beside a g of the targets that there were."""

    kept: float
    foreign: float
    beside: float = 0.0


@dataclass(frozen=True)
class Row:
    """One mistake in one exercise: what it should cost, what it did, and what was said.

    ``loss`` beyond the model plan's, ``beyond`` what is lost that no right route loses and no
    recovery goal forgives; ``undone`` the share of the workup that is (all 0..1).
    """

    exercise: str
    mistake: Mistake
    matters: bool
    loss: float
    beyond: float
    foreign: float
    undone: float
    products: int
    stated_loss: float
    cost: float
    said: tuple[str, ...]
    named: bool
    weighed: bool
    contradicting: tuple[str, ...]

    @property
    def least(self) -> float:
        """The least points of 90 that it must cost."""
        floor = FLOORS.get(self.mistake.name, 0.0) if self.matters else 0.0
        floor /= self.products if self.mistake.name in OF_ONE_PRODUCT else 1
        lost = max(0.0, self.beyond - UNAVOIDABLE)
        mixed = max(0.0, self.foreign - UNAVOIDABLE)
        return max(floor, 36.0 * lost, 15.0 * mixed)

    @property
    def most(self) -> float:
        """The most points that it may cost."""
        slip = SLIP if self.matters else 5.0
        if self.mistake.name in SAFETY:
            slip = SAFETY_POINTS
        by_what_is_weighed = 110.0 * max(self.loss, 0.0) + 80.0 * max(self.foreign, 0.0)
        return min(OUT_OF, max(slip, FLOORS.get(self.mistake.name, 0.0) * 4)
                   + max(by_what_is_weighed, PRODUCT_POINTS * self.undone))

    @property
    def in_the_ledgers_words(self) -> bool:
        """Whether the loss is said as where the product is, though no rule has a name for it."""
        return self.loss >= SMALLEST_LOSS and any(code.startswith("ledger-") for code in self.said)

    @property
    def misses(self) -> tuple[str, ...]:
        """What is wrong with the row."""
        stated_wrong = self.weighed and max(self.loss, self.stated_loss) >= SMALLEST_LOSS and not (
            self.loss / 2 <= self.stated_loss <= 2 * self.loss)
        named = self.named if self.matters and self.mistake.rules else bool(self.said)
        return tuple(word for word, wrong in (
            ("unnamed", not (named or self.in_the_ledgers_words) and (self.least > 0 or (
                self.matters and bool(self.mistake.rules)))),
            ("cheap", self.cost < self.least - SAME_POINTS),
            ("dear", self.cost > self.most + SAME_POINTS),
            ("size", stated_wrong),
        ) if wrong)

    def __str__(self) -> str:
        return (f"{self.exercise:36} {self.mistake.name:38} lost {100 * self.loss:4.0f} % "
                f"(stated {100 * self.stated_loss:4.0f}), foreign {100 * self.foreign:4.0f} %: "
                f"cost {self.cost:5.1f} of {self.least:4.1f}..{self.most:4.1f}  "
                f"{' '.join(self.misses) or 'right':16} said {', '.join(self.said) or 'nothing'}"
                f"{'; wanted ' + ' or '.join(sorted(self.mistake.rules)) if self.misses else ''}")


def effect(exercise: Exercise, plan: Plan) -> Effect:
    """What the scalar simulation finds in the flasks when they are weighed last."""
    weighed: dict[str, dict[str, float]] = {}
    start: dict[str, float] = {}
    practice = {name: practice_value(name, exercise.setup.values).value for name in PRACTICE}
    with brought_along(exercise.setup):
        for step, bench in zip(
                plan.steps, simulate_scalar(plan, exercise.setup, practice), strict=True):
            start = start or dict(bench.put_in)
            if isinstance(step, Weigh):
                weighed[step.flask] = dict(bench.vessels[step.flask].everything())
        grams = {key: counted_mass(key) for found in (start, *weighed.values()) for key in found}
        stays = {key for key in grams if _stays(key)}
    targets = [(t.substance, t.flask) for t in exercise.setup.targets]
    kept, foreign, beside = [], [], []
    for target, flask in targets:
        found = weighed.get(flask, {}) if flask else max(
            weighed.values(), key=lambda w: w.get(target, 0.0), default={})
        kept.append(found.get(target, 0.0) / max(start.get(target, 0.0), 1e-12))
        mass = {k: n * grams[k] for k, n in found.items()}
        foreign.append(1.0 - mass.get(target, 0.0) / max(sum(mass.values()), 1e-9)
                       if sum(mass.values()) > 1e-6 else 0.0)
        beside.append(sum(g for k, g in mass.items() if k in stays and k != target)
                      / max(start.get(target, 0.0) * grams[target], 1e-9))
    return Effect(*(sum(found) / len(found) for found in (kept, foreign, beside)))


def _stays(key: str) -> bool:
    """Whether boiling down leaves a component: no water, solvent or drying agent."""
    if key == "water" or key.startswith("agent:"):
        return False
    classes = by_key("substances", "key")[key]["classes"].split() if is_substance(key) else ()
    return not {"solvent", "cosolvent"} & set(classes)


def total(assessment: Assessment) -> float:
    """Points of the computed checks, out of 90."""
    return OUT_OF * assessment.unrounded / assessment.out_of


@dataclass(frozen=True)
class Right:
    """The right routes of an exercise: the model plan assessed and measured, the share of the
    targets that the poorest of them brings, and the reaction mixture only stripped."""

    model: Assessment
    effect: Effect
    poorest: float
    bare: Effect

    def undone(self, found: Effect) -> float:
        """Of what the model plan takes out of the reaction mixture, what is weighed after all."""
        taken_out = max(self.bare.beside - self.effect.beside, LEAST_TAKEN_OUT)
        return min(1.0, max(0.0, (found.beside - self.effect.beside) / taken_out))


@cache
def _right(key: str) -> Right:
    exercise = next(e for e in every_exercise() if e.key == key)
    found = effect(exercise, exercise.model_plan)
    kept = [found.kept, *(effect(exercise, plan).kept for plan in exercise.alternatives)]
    return Right(assess(exercise, draws=DRAWS), found, min(k for k in kept if k > SMALLEST_LOSS),
                 effect(exercise, _only_stripped(exercise)))


def _only_stripped(exercise: Exercise) -> Plan:
    strips = [replace(s, id="strip", flask="bare")
              for s in exercise.model_plan.steps if isinstance(s, Strip)]
    return Plan((Transfer(id="pour", flask=START_FLASK, into="bare"), *strips[-1:],
                 Weigh(id="weigh", flask="bare")))


def _stated_kept(result: Assessment) -> float:
    """Mean share of the theoretical amounts that the program says is in the product flask."""
    shares = [dict(e.composition_g).get(e.target, 0.0) / e.theoretical_g for e in result.expected]
    return sum(shares) / len(shares)


def row(exercise: Exercise, mistake: Mistake, plan: Plan, matters: bool) -> Row:
    """A mistake, assessed and measured."""
    right = _right(exercise.key)
    model, wrong = right.model, effect(exercise, plan)
    enough = 1.0 if exercise.fixed_portions or mistake.name not in EXTRACTED_LESS else min(
        t.recovery_goal for t in exercise.setup.targets)
    try:
        result = assess(exercise, plan, draws=DRAWS)
    except NotConserved:
        return Row(exercise.key, mistake, matters, loss=1.0, beyond=1.0, foreign=0.0, undone=0.0,
                   products=1, stated_loss=0.0, cost=0.0, said=("crashed",), named=False,
                   weighed=True, contradicting=())
    found = findings(result)
    charged = [f for f in found if f.charged and f.score_loss > 0]
    stated = _stated_kept(model)
    return Row(
        exercise.key, mistake, matters,
        loss=1.0 - wrong.kept / max(right.effect.kept, 1e-9),
        beyond=1.0 - wrong.kept / max(right.poorest * enough, 1e-9),
        foreign=max(0.0, wrong.foreign - right.effect.foreign),
        undone=right.undone(wrong),
        products=len(exercise.setup.targets),
        stated_loss=1.0 - _stated_kept(result) / max(stated, 1e-9),
        cost=total(model) - total(result),
        said=tuple(dict.fromkeys(f.code for f in charged)),
        named=any(f.code in mistake.rules for f in found),
        weighed=any(isinstance(s, Weigh) for s in plan.steps),
        contradicting=tuple(contradictions(result)))


def plans_with_mistakes(
    exercises: Iterable[Exercise],
) -> Iterator[tuple[Exercise, Mistake, Plan, bool]]:
    """Every mistake in every exercise that it applies to, with whether it matters there."""
    for exercise in exercises:
        model = model_case(exercise)
        for mistake in (*MISTAKES, *LOSSES):
            plan = mistake.change(model)
            if plan is None or plan == exercise.model_plan or check_plan(plan, exercise):
                continue
            try:
                matters = mistake.matters(model, model.changed(plan))
            except NotConserved:
                matters = True
            yield exercise, mistake, plan, matters


@dataclass(frozen=True)
class Harmless:
    """A right route written otherwise, and what it cost."""

    exercise: str
    spelling: str
    cost: float
    said: tuple[str, ...]

    @property
    def missed(self) -> bool:
        """Whether it cost anything or was charged for anything."""
        if self.spelling in MORE_FLASKS:
            return abs(self.cost) > FILM_POINTS or not set(self.said) <= {"ledger-left-on-glass"}
        return abs(self.cost) > SAME_POINTS or bool(self.said)

    def __str__(self) -> str:
        return (f"{self.exercise:36} {self.spelling:38} cost {self.cost:5.1f}  "
                f"charged {', '.join(self.said) or 'nothing'}")


def harmless_plans(exercises: Iterable[Exercise]) -> Iterator[tuple[Exercise, str, Plan]]:
    """Every spelling of every model plan that it changes."""
    for exercise in exercises:
        for number, (name, edit) in enumerate(SPELLINGS.items()):
            plan = edit(exercise.model_plan, exercise, dice_of(number))
            if plan is not None and plan != exercise.model_plan and not check_plan(plan, exercise):
                yield exercise, name, plan


def harmless(exercise: Exercise, spelling: str, plan: Plan) -> Harmless:
    """A spelling, assessed."""
    model = _right(exercise.key).model
    result = assess(exercise, plan, draws=DRAWS)
    before = {f.code for f in findings(model) if f.charged and f.score_loss > 1e-3}
    new = dict.fromkeys(f.code for f in findings(result)
                        if f.charged and f.score_loss > 1e-3 and f.code not in before)
    return Harmless(exercise.key, spelling, total(model) - total(result), tuple(new))


def sampled(rows: list[T], count: int) -> list[T]:
    """So many of the rows, always the same ones; all of them for 0."""
    return rows if not count or count >= len(rows) else dice_of(1).sample(rows, count)


def main() -> None:
    """Print the misses and how many of each kind there are."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("exercise", nargs="*", help="only these exercises or procedures")
    parser.add_argument("--sample", type=int, default=0, help="so many rows of each kind, seeded")
    parser.add_argument("--all", action="store_true", help="print the rows that are right as well")
    given = parser.parse_args()
    exercises = [e for e in every_exercise() if not given.exercise or e.key in given.exercise]
    tally: Counter[str] = Counter()
    for planted in sampled(list(plans_with_mistakes(exercises)), given.sample):
        found = row(*planted)
        tally.update(("mistakes", *(found.misses or ("right",))))
        if found.misses or given.all:
            print(found, flush=True)  # noqa: T201
    for spelt in sampled(list(harmless_plans(exercises)), given.sample):
        other = harmless(*spelt)
        tally.update(("harmless", "harmless charged" if other.missed else "harmless free"))
        if other.missed or given.all:
            print(other, flush=True)  # noqa: T201
    print(", ".join(f"{name} {n}" for name, n in tally.items()))  # noqa: T201


if __name__ == "__main__":
    main()
