"""Running a plan: one call gives the nominal outcome and its band.

Runs are made of steps with the bench before and after each; a run of a changed plan starts from
the first step that differs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property, wraps
from typing import Any, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from .conservation import check_conserved
from .draws import Draws
from .facts import Facts
from .flow import Flow
from .inventory import Inventory, build_inventory
from .materials import after_reaction, charged
from .plan import START_FLASK, Kind, Plan, Step
from .setup import Setup
from .speciation import NotConverged
from .state import State, empty_flask
from .steps import MissingFlask, carry_out

Array = NDArray[np.float64]
Told = TypeVar("Told")


@dataclass(frozen=True, eq=False)
class Outcome:
    """One step with the bench after it and what it reported; equal to nothing but itself."""

    step: Step
    after: State
    facts: Facts


Tried = dict[tuple[Outcome | None, Step], Outcome]
"""What came of a step after an outcome, None: at the start; all of one start and its draws."""


@dataclass(frozen=True)
class Run:
    """A whole plan carried out."""

    inventory: Inventory
    start: State
    outcomes: tuple[Outcome, ...]

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The steps carried out."""
        return tuple(o.step for o in self.outcomes)

    @cached_property
    def flow(self) -> Flow:
        """Where the liquid of the steps carried out goes."""
        return Flow(Plan(self.steps))

    @cached_property
    def told(self) -> dict[tuple[str, object], Any]:
        """What was asked of it before, by question and what that was about (``asked_once``: a
        target)."""
        return {}

    @property
    def end(self) -> State:
        """The bench when all is done."""
        return self.outcomes[-1].after if self.outcomes else self.start

    def before(self, index: int) -> State:
        """The bench before step ``index``."""
        return self.start if index == 0 else self.outcomes[index - 1].after

    def of(self, kind: type[Kind]) -> Iterator[tuple[int, Kind, Outcome]]:
        """All steps of a kind, in order: position, step and what it did."""
        for i, outcome in enumerate(self.outcomes):
            if isinstance(outcome.step, kind):
                yield i, outcome.step, outcome

    def outcome(self, step_id: str) -> Outcome:
        """What a step did, by its id."""
        return next(o for o in self.outcomes if o.step.id == step_id)


def asked_once(question: Callable[[Run, str], Told]) -> Callable[[Run, str], Told]:
    """A question about a target of a run, worked out when it is asked first."""
    name = question.__qualname__

    @wraps(question)
    def asked(run: Run, target: str) -> Told:
        if (name, target) not in run.told:
            run.told[name, target] = question(run, target)
        return cast(Told, run.told[name, target])

    return asked


def start_state(inv: Inventory) -> State:
    """The bench when the reaction is over: one flask, everything in it."""
    setup = inv.setup
    mixture, turned = after_reaction(inv, setup)
    flask = empty_flask(inv)
    flask = (replace(flask, organic=mixture, celsius=setup.start_C)
             if setup.start_phase == "organic"
             else replace(flask, aqueous=mixture, celsius=setup.start_C))
    return State({START_FLASK: flask}, {}, {}, inv.none(), charged(inv, setup) + turned)


def prepare(setup: Setup, draws: Draws) -> Run:
    """An empty run of an exercise: constants drawn, the reaction over, nothing done yet."""
    inv = build_inventory(setup, setup.tables, draws)
    return Run(inv, start_state(inv), ())


def simulate(plan: Plan, setup: Setup, draws: Draws) -> Run:
    """Carry out a plan.

    Raises MissingFlask, UnknownMaterial or NotConverged with the step's id in the message.
    """
    return continue_run(prepare(setup, draws), plan)


def continue_run(known: Run, plan: Plan, tried: Tried | None = None) -> Run:
    """Carry out a plan, taking over from a known run the first steps that are the same, and from
    what was ``tried`` before what came of the same step at the same moment."""
    return Run(known.inventory, known.start, tuple(_carried(known, plan, tried)))


def _carried(known: Run, plan: Plan, tried: Tried | None = None) -> Iterator[Outcome]:
    """One step after the other, those that a known run shares taken over."""
    shared = shared_start(known, plan.steps)
    yield from shared
    tried = {} if tried is None else tried
    last = shared[-1] if shared else None
    for step in plan.steps[len(shared):]:
        outcome = tried.get((last, step))
        if outcome is None:
            state, facts = carry_out(
                known.inventory, known.start if last is None else last.after, step)
            check_conserved(known.inventory, known.start, state, step.id)
            outcome = tried[last, step] = Outcome(step, state, facts)
        last = outcome
        yield outcome


@dataclass(frozen=True)
class Stopped:
    """The step at which a plan cannot be carried out any further, and why, in words."""

    step: Step
    why: str


CANNOT = (MissingFlask, NotConverged, ArithmeticError, LookupError, ValueError)
NO_BALANCE = "what happens in this step cannot be computed for what is in the flask"


def run_as_far(known: Run, plan: Plan) -> tuple[Run, Stopped | None]:
    """Carry out a plan as far as it can be: the run of the steps before the first that cannot, and
    which that is; None where all can."""
    done: list[Outcome] = []
    stopped = None
    try:
        for outcome in _carried(known, plan):
            done.append(outcome)
    except CANNOT as problem:
        why = str(problem) if isinstance(problem, MissingFlask) else NO_BALANCE
        stopped = Stopped(plan.steps[len(done)], why)
    return Run(known.inventory, known.start, tuple(done)), stopped


def shared_start(known: Run, steps: tuple[Step, ...]) -> list[Outcome]:
    """The outcomes of the first steps that a known run has in common with some steps."""
    shared = []
    for outcome, step in zip(known.outcomes, steps, strict=False):
        if outcome.step != step:
            break
        shared.append(outcome)
    return shared
