"""One plan under examination: its run, and the questions that rules ask of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.facts import Facts, ShakeFacts
from workups.chemistry.inventory import Inventory
from workups.chemistry.kinds import Bottle, bottle
from workups.chemistry.layers import molar_gas_volume_mL
from workups.chemistry.measures import TargetMeasure, measure, product_flask, product_weighing
from workups.chemistry.plan import (
    START_FLASK,
    WASTE,
    Dry,
    Extract,
    Kind,
    Parting,
    Plan,
    Step,
    Wash,
)
from workups.chemistry.run import CANNOT, Outcome, Run, Tried, continue_run
from workups.chemistry.state import State
from workups.exercise.exercise import Exercise

from .orphans import without_orphans

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Case:
    """A plan with its run for an exercise; changed plans share what they have in common."""

    exercise: Exercise
    plan: Plan
    run: Run
    _tried: Tried = field(default_factory=dict, compare=False, repr=False)

    def changed(self, plan: Plan) -> Case:
        """The same exercise with another plan; no step is carried out twice at the same moment of
        a case and what was changed from it."""
        return Case(self.exercise, plan, continue_run(self.run, plan, self._tried), self._tried)

    def tried(self, plan: Plan | None) -> Case | None:
        """The same exercise with another plan, what hangs on steps that are gone left out; None
        where nothing is left of it or it cannot be carried out."""
        if plan is None:
            return None
        whole = without_orphans(plan)
        if not whole.steps:
            return None
        try:
            return self.changed(whole)
        except CANNOT:
            return None

    def outcome_in(self, plan: Plan, step_id: str) -> Outcome | None:
        """What one step of another plan does, nothing after it carried out; None where it is gone
        or cannot be carried out."""
        steps = without_orphans(plan).steps
        at = next((i for i, s in enumerate(steps) if s.id == step_id), None)
        tried = None if at is None else self.tried(Plan(steps[:at + 1]))
        return None if tried is None else tried.run.outcomes[-1]

    @property
    def inventory(self) -> Inventory:
        """Components and drawn constants."""
        return self.run.inventory

    @property
    def targets(self) -> tuple[str, ...]:
        """Keys of the target products."""
        return tuple(t.substance for t in self.exercise.setup.targets)

    def steps(self) -> Iterator[tuple[int, Step, Facts]]:
        """Position, step and facts, in order."""
        for i, outcome in enumerate(self.run.outcomes):
            yield i, outcome.step, outcome.facts

    def of(self, kind: type[Kind]) -> Iterator[tuple[int, Kind, Facts]]:
        """All steps of a kind, in order: position, step and facts."""
        return ((i, step, outcome.facts) for i, step, outcome in self.run.of(kind))

    def partings(self) -> Iterator[tuple[int, Parting, tuple[ShakeFacts, ...]]]:
        """Steps that shake and separate, with their shakes."""
        return ((i, step, facts.shakes) for i, step, facts in self.of(Parting))

    def before(self, index: int) -> State:
        """The bench before a step."""
        return self.run.before(index)

    def after(self, index: int) -> State:
        """The bench after a step."""
        return self.run.outcomes[index].after

    @property
    def minutes(self) -> float:
        """What the steps take at the bench [min]."""
        return sum(o.facts.minutes for o in self.run.outcomes)

    def measures(self) -> tuple[TargetMeasure, ...]:
        """Every target at the end."""
        return tuple(measure(self.run, t) for t in self.targets)

    def amount_in(self, state: State, flask: str, target: str) -> float:
        """Nominal amount of a target in a flask or in the waste [mmol]."""
        row = self.inventory.index[target]
        if flask == WASTE:
            return float(sum(w[row, 0] for w in state.waste.values()))
        there = state.flasks.get(flask)
        return 0.0 if there is None else float(there.of(row)[0])

    def available(self, target: str) -> float:
        """Nominal amount of a target when the workup begins [mmol]."""
        return float(self.run.start.everywhere(self.inventory.index[target])[0])

    def share_in(self, state: State, flask: str, target: str) -> float:
        """Share (0..1) of what there was of a target at the start that a flask holds."""
        available = self.available(target)
        return self.amount_in(state, flask, target) / available if available > 0 else 0.0

    def main_target(self, state: State, flask: str) -> str:
        """The target a flask holds the largest share of."""
        return max(self.targets, key=lambda t: self.share_in(state, flask, t))

    def holds_product(self, state: State, flask: str) -> bool:
        """Whether most of some target is in this flask."""
        return any(self.share_in(state, flask, t) > 0.5 for t in self.targets)

    def used_later(self, index: int, flask: str) -> bool:
        """Whether a later step takes up what is in a flask (labels, tests and waste aside)."""
        return self.run.flow.taken_up_later(index, flask)

    def is_aqueous(self, material: str) -> bool:
        """Whether a liquid joins the water layer."""
        return material not in self.inventory.solvents

    def washes_product(self, index: int, step: Wash) -> bool:
        """Whether a step shakes the organic layer that holds product with something aqueous."""
        return self.is_aqueous(step.material) and self.holds_product(
            self.before(index), step.flask)

    def product_washes(self) -> list[tuple[int, Wash]]:
        """All washes of the organic layer that holds product, with their positions."""
        return [(i, s) for i, s, _ in self.of(Wash) if self.washes_product(i, s)]

    def dries_product(self, index: int, step: Dry) -> bool:
        """Whether a step puts a drying agent to a flask that holds product."""
        return self.holds_product(self.before(index), step.flask)

    def bottle(self, material: str) -> Bottle:
        """What stands under a key on the bench of the exercise."""
        return bottle(material, self.exercise.setup)

    def is_brine(self, material: str) -> bool:
        """A concentrated neutral salt solution."""
        return self.bottle(material).is_brine

    def is_carbonate(self, material: str) -> bool:
        """A bicarbonate or carbonate solution."""
        return self.bottle(material).is_carbonate

    def is_strong_base(self, material: str) -> bool:
        """A hydroxide solution."""
        return self.bottle(material).is_strong_base

    def is_acid(self, material: str) -> bool:
        """An acid solution, mineral or not."""
        return self.bottle(material).is_acid

    def gas_mL(self, mmol: Array) -> Array:
        """Volume of gas at room temperature and one atmosphere [mL]."""
        return mmol * molar_gas_volume_mL(self.exercise.setup.room_C)

    @property
    def start_flask(self) -> str:
        """Name of the flask the reaction was run in."""
        return START_FLASK

    def ends_with(self, target: str) -> str:
        """The last step that acted on the flask of a target before it is weighed, its id."""
        weighing = product_weighing(self.run, target)
        return self.run.flow.last_acting_on(
            product_flask(self.run, target), weighing.at if weighing else None)

    def extracts(self) -> list[tuple[int, Extract]]:
        """All extraction steps with their positions."""
        return [(i, s) for i, s, _ in self.of(Extract)]
