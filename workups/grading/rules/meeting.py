"""What comes together in one vessel at a step, whatever is poured into what."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from typing import cast

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.at_once import turned_over_at_once
from workups.chemistry.kinds import Contents
from workups.chemistry.limits import LEAST_OXIDANT_MMOL
from workups.chemistry.materials import poured
from workups.chemistry.plan import WASTE, Step
from workups.chemistry.state import State

from ..case import Case

Array = NDArray[np.float64]

LEAST_MMOL = 1.0
BASE_PH, CONCENTRATED_BASE_PH = 12.0, 14.4


@dataclass(frozen=True, eq=False)
class Part(Contents):
    """A liquid that comes to a meeting: out of which flask (empty: a bottle), and how warm [C]."""

    flask: str = ""
    celsius: float = 20.0

    @cached_property
    def mL(self) -> float:
        """Nominal volume [mL]."""
        return float(self.inv.volume_mL(self.amounts)[0])


@dataclass(frozen=True, eq=False)
class Meeting:
    """Liquids that come together at a step: ``parts`` as they were, each alone.

    ``place`` a flask, or ``waste:STREAM``; ``aside`` where the plan does not go on with it;
    ``stirred`` where the step itself is carried out in it.
    """

    case: Case
    place: str
    parts: tuple[Part, ...]
    aside: bool
    stirred: bool

    @property
    def is_waste(self) -> bool:
        """Whether this is a waste container."""
        return self.place.startswith(f"{WASTE}:")

    @cached_property
    def together(self) -> Contents:
        """All parts in one vessel, with what reacts at once turned over."""
        inv = self.case.inventory
        amounts = sum((p.amounts for p in self.parts), inv.none())
        return Contents(inv, np.asarray(amounts + turned_over_at_once(inv, amounts)))

    @property
    def celsius(self) -> float:
        """Temperature of the mixture [C], by volume; heat of mixing left out."""
        return sum(p.mL * p.celsius for p in self.parts) / max(sum(p.mL for p in self.parts), 1e-9)


def meetings(case: Case, index: int) -> tuple[Meeting, ...]:
    """The vessels in which a step brings at least two liquids together; looked for when a rule
    asks first."""
    told, key = case.run.told, ("meetings", index)
    if key not in told:
        told[key] = tuple(found for found in (*_worked_in(case, index), *_poured_to(case, index))
                          if len(found.parts) > 1)
    return cast(tuple[Meeting, ...], told[key])


def _worked_in(case: Case, index: int) -> Iterator[Meeting]:
    """The vessel a step takes up, with what it uses from the bench."""
    step = case.plan.steps[index]
    fresh = [Part(case.inventory, a, "", case.inventory.room_C) for a in _fresh(case, index, step)]
    for name in step.takes()[:1]:
        parts = _there((_held(case, case.before(index), name), *fresh))
        yield Meeting(case, name, parts, aside=False, stirred=True)


def _fresh(case: Case, index: int, step: Step) -> Iterator[Array]:
    """Each liquid that a step takes from the bench [mmol]."""
    inv = case.inventory
    for use in step.uses():
        if use.material in inv.agents:
            continue
        if use.volume_mL is None:
            yield np.maximum(case.after(index).put_in - case.before(index).put_in, 0.0)
        else:
            yield poured(inv, use.material, use.volume_mL).total()


def _poured_to(case: Case, index: int) -> Iterator[Meeting]:
    """The other vessels that a step pours into, with what they held."""
    step, before, after = case.plan.steps[index], case.before(index), case.after(index)
    takes, aside = step.takes(), step.sets_aside()
    for name in dict.fromkeys(step.fills()):
        if name in takes and len(takes) == 1:
            continue
        for place in _streams(before, after) if name == WASTE else (name,):
            there = _held(case, before, place)
            if len(takes) > 1 or (step.empties and step.fills() == (name,)):
                others = [_held(case, before, taken) for taken in takes if taken != place]
            else:
                now, source = _held(case, after, place), _held(case, before, takes[0])
                poured_in = np.maximum(now.amounts - there.amounts, 0.0)
                others = [replace(source, amounts=poured_in)]
            yield Meeting(case, place, _there((there, *others)), name in aside, stirred=False)


def _streams(before: State, after: State) -> tuple[str, ...]:
    """The waste containers that a step has poured something into."""
    changed = (s for s, held in after.waste.items() if held is not before.waste.get(s))
    return tuple(f"{WASTE}:{stream}" for stream in changed)


def _held(case: Case, state: State, place: str) -> Part:
    """What a flask or a waste container holds; nothing where it is not there."""
    inv = case.inventory
    if place.startswith(f"{WASTE}:"):
        amounts = state.waste.get(place.partition(":")[2])
        return Part(inv, inv.none() if amounts is None else amounts, place, inv.room_C)
    flask = state.flasks.get(place)
    if flask is None:
        return Part(inv, inv.none(), place, inv.room_C)
    return Part(inv, flask.total(), place, flask.nominal_C)


def _there(parts: Iterable[Part]) -> tuple[Part, ...]:
    return tuple(p for p in parts if bool(np.any(p.amounts[:, 0] > 0)))


def poison(meeting: Meeting) -> str:
    """The gas that hypochlorite gives here and gave in none of the parts: ``chlorine`` with acid,
    ``chloramines`` with ammonia or an ammonium salt; empty if none.

    Acid counts by what is there in the end, and as an acid liquid of its own: where it runs in,
    hypochlorite meets it before the rest can take it up.
    """
    together, parts = meeting.together, meeting.parts
    if together.oxidant_mmol < LEAST_OXIDANT_MMOL:
        return ""

    def paired(held: Contents) -> float:
        return min(held.oxidant_mmol, held.ammonia_mmol)

    if paired(together) - max(map(paired, parts)) >= LEAST_OXIDANT_MMOL:
        return "chloramines"
    more = together.chlorine_mmol - sum(p.chlorine_mmol for p in parts)
    oxidising = [p for p in parts if p.oxidant_mmol >= LEAST_OXIDANT_MMOL]
    sour = [p for p in parts if p not in oxidising and p.acid_mmol >= LEAST_OXIDANT_MMOL]
    if more >= LEAST_OXIDANT_MMOL or (oxidising and any(p.is_acid for p in sour)):
        return "chlorine"
    return ""


def violent(meeting: Meeting) -> str:
    """What reacts violently here and did in none of the parts, as a sentence; empty if nothing."""
    said = _violent(meeting.together)
    return "" if any(_violent(part) for part in meeting.parts) else said


def _violent(held: Contents) -> str:
    if held.mmol("chloroform") <= LEAST_MMOL or held.pH <= BASE_PH:
        return ""
    if held.mmol("acetone") > LEAST_MMOL:
        return f"Chloroform, acetone and base (pH {held.pH:.1f}) meet here and react violently."
    if held.pH > CONCENTRATED_BASE_PH:
        return f"Chloroform meets concentrated base (pH {held.pH:.1f}) here and reacts violently."
    return ""
