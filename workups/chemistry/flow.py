"""Where the liquid of a plan goes: flasks over time, with steps between them.

Nothing is simulated here. A flask before a step and the same flask after it are two places; a
step leads from the flasks that it takes to those that it fills, and every flask that it does not
empty leads on to itself. What only clings to the glass of a flask is a place of its own, which
leads on where that glass is rinsed. The questions below are about what *can* get where; how much
does, the simulation says.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from .plan import START_FLASK, WASTE, Kind, Plan, Step

Names = frozenset[str]


@dataclass(frozen=True)
class Leading:
    """Flasks whose contents, and flasks whose film on the glass, still lead to a vessel."""

    flasks: Names
    films: Names


@dataclass(frozen=True)
class Flow:
    """The way of the liquid through one plan.

    Positions count from 0; position ``i`` is the moment before step ``i``, position ``len(plan)``
    the end.
    """

    plan: Plan

    @cached_property
    def flasks(self) -> tuple[tuple[str, ...], ...]:
        """The flasks there are at each position, oldest first."""
        there = [START_FLASK]
        found = [tuple(there)]
        for step in self.plan.steps:
            there += [name for name in step.brings() if name not in there]
            found.append(tuple(there))
        return tuple(found)

    def leads_to(self, vessel: str, at: int | None = None) -> tuple[Names, ...]:
        """For each position up to ``at`` (the end, if none is given), the flasks whose contents
        may still get into what the vessel holds at ``at``; the last entry is the vessel alone.

        >>> from .plan import Combine, Discard, Separate
        >>> plan = Plan((
        ...     Separate(id="1", flask=START_FLASK, keep_in="ether", other_in="water"),
        ...     Discard(id="2", flask="water"),
        ...     Combine(id="3", flasks=("ether",), into="vial")))
        >>> [sorted(names) for names in Flow(plan).leads_to("vial")]
        [['reaction flask'], ['ether'], ['ether'], ['vial']]
        """
        return tuple(leading.flasks for leading in self.leading_to(vessel, at))

    def leading_to(self, vessel: str, at: int | None = None) -> tuple[Leading, ...]:
        """Like ``leads_to``, with the films that would still be rinsed into the vessel."""
        found = [Leading(frozenset({vessel}), frozenset())]
        for step in reversed(self.plan.steps[:at]):
            found.append(_before(step, found[-1]))
        return tuple(
            Leading(leading.flasks.intersection((*there, WASTE)), leading.films.intersection(there))
            for leading, there in zip(reversed(found), self.flasks, strict=False))

    def after(self, index: int, flask: str) -> Iterator[tuple[int, Step]]:
        """The steps after one that act on what a flask holds then, wherever it is poured; of
        what a step parts, what the plan goes on with is followed."""
        names = {flask}
        for i, step in enumerate(self.plan.steps[index + 1 :], index + 1):
            taken = names.intersection(step.takes())
            if not taken:
                continue
            yield i, step
            onward = set(step.carries_on_in())
            reached = {b for a, b in step.pours() if a in names} & onward
            names = (names - taken | taken & onward if step.empties else names) | reached

    def of(self, kind: type[Kind], index: int, flask: str) -> Iterator[Kind]:
        """Those of a kind among the steps ``after`` one."""
        return (step for _, step in self.after(index, flask) if isinstance(step, kind))

    def taken_up_later(self, index: int, flask: str) -> bool:
        """Whether a step after one goes on with a flask: more than to wait, look or label, and
        not to pour it away."""
        return any(
            flask in step.takes() and step.takes_further
            for step in self.plan.steps[index + 1 :])

    def first_filled(self, flask: str) -> int | None:
        """Position before which nothing was put into a flask; None where nothing ever is."""
        if flask == START_FLASK:
            return 0
        return next((i for i, s in enumerate(self.plan.steps) if flask in s.fills()), None)

    def source_of(self, index: int, flask: str) -> int | None:
        """The last step before a position that put something into a flask; None where it is as
        the reaction left it, or empty."""
        earlier = range(min(index, len(self.plan.steps)) - 1, -1, -1)
        return next((i for i in earlier if flask in self.plan.steps[i].fills()), None)

    def last_acting_on(self, flask: str, at: int | None = None) -> str:
        """Id of the last step before a position (the end, if none is given) that put
        something into a flask or did something with what it holds, beyond waiting, looking, naming
        and weighing; empty where none did."""
        acting = (s.id for s in reversed(self.plan.steps[:at]) if flask in (*s.takes(), *s.fills())
                  and not (s.is_passive or s.weighs))
        return next(acting, "")


def _before(step: Step, after: Leading) -> Leading:
    """What leads to a vessel before a step, from what does after it."""
    fills = step.fills()
    emptied = set(step.takes()).difference(fills) if step.empties else set()
    poured = {a for a, b in step.pours() if b in after.flasks}
    clinging = {a for a, _ in step.pours() if a in after.films}
    rinsed = {a for a, b in step.rinses_out() if b in after.flasks}
    return Leading(after.flasks - emptied | poured | clinging, after.films | rinsed)
