"""Where every mmol of a product is when it is weighed, and which step put it there.

The **line** is what leads to the vessel that is weighed, or to the vessels where there are several
crops: a flask is on it at a moment if what it holds then is poured, parted or filtered, by the
steps that follow, into such a vessel. What leaves
the line at a step is lost there, and is followed to where it ends: a layer put aside at step 2
and poured away at step 9 is in the waste, and was lost at step 2. So discarding now, later or
never makes no difference, nor what flasks are called.

For each target, mmol per draw:

    n(start) = n(vessels) + sum over entries n(place, step, how)

An entry is negative only where something brought the target in (a reaction of the workup, or a
bench liquid that contains it).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.flow import Leading
from workups.chemistry.measures import (
    leading_to_weighed,
    product_flask,
    product_weighings,
)
from workups.chemistry.plan import START_FLASK, WASTE, Parting, Wash
from workups.chemistry.run import Outcome, Run, asked_once
from workups.chemistry.state import State
from workups.chemistry.sums import percentile

from ..assessment import LedgerLine

Array = NDArray[np.float64]

GLASS, AIR, REACTION = "the glass", "the air", "other substances"
LEAST_SHARE = 1e-4


class How(StrEnum):
    """How a product got where it is, if that is not the vessel that is weighed."""

    OTHER_LAYER = "left in the other layer"
    PUT_ASIDE = "put aside with its layer"
    NOT_SET_FREE = "kept in the water as a salt"
    WASHED_OUT = "washed out"
    NOT_CARRIED_ON = "not carried on"
    POURED_AWAY = "poured away"
    HELD = "held by the solid or the paper"
    BOUND = "bound by the drying agent"
    DISSOLVED = "left dissolved"
    ON_GLASS = "left on glass"
    EVAPORATED = "evaporated"
    REACTED = "turned into something else"
    NEVER_WEIGHED = "never weighed"


@dataclass(frozen=True)
class Entry:
    """Some of a target: the place it ends in, the step that took it off the line, and how.

    ``mmol`` (N,). ``step`` is empty where no step touched it.
    """

    place: str
    step: str
    how: How
    mmol: Array


@dataclass(frozen=True)
class Ledger:
    """One target, from the start of the workup to its end; amounts (N,) in mmol.

    ``vessel`` is what is weighed as this product, empty where nothing is weighed, the one that
    counts most where there are several; ``vessels_mmol`` what each of them holds on the balance,
    ``weighed_mmol`` the sum.
    """

    target: str
    vessel: str
    vessels_mmol: Mapping[str, Array]
    available_mmol: Array
    weighed_mmol: Array
    entries: tuple[Entry, ...]

    def share(self, mmol: Array) -> Array:
        """An amount as share of what there was at the start, (N,)."""
        return np.where(
            self.available_mmol > 0, mmol / np.where(self.available_mmol > 0, self.available_mmol,
                                                     1.0), 0.0)

    @property
    def delivered(self) -> Array:
        """Share of the target that is weighed as product, (N,)."""
        return self.share(self.weighed_mmol)



@asked_once
def ledger_of(run: Run, target: str) -> Ledger:
    """The ledger of a target for a run.

    It ends with the last weighing that counts: what is done with the vessel afterwards changes
    nothing. Where crops are weighed in vessels of their own, the line leads to all of them.
    Where nothing leads to what is weighed, the line is drawn to the flask that holds most then, and
    what that flask holds is an entry of its own: not carried on.
    """
    weighings = product_weighings(run, target)
    vessel = product_flask(run, target)
    lines = leading_to_weighed(run, target)
    if weighings:
        run = replace(run, outcomes=run.outcomes[:len(lines) - 1])
    weighed = vessel if weighings else ""
    account = _Account(run, target, lines)
    if not account.starts_on_line:
        richest = _richest(run, target)
        if richest != vessel:
            account = _Account(run, target, run.flow.leading_to(richest))
        kept = Entry(richest, run.flow.last_acting_on(richest), How.NOT_CARRIED_ON, account.at_end)
        left = np.zeros_like(account.at_end)
        if richest == vessel:
            left, kept = account.at_end, replace(kept, mmol=left)
    elif not weighed:
        kept = Entry(vessel, run.flow.last_acting_on(vessel), How.NEVER_WEIGHED, account.at_end)
        left = np.zeros_like(account.at_end)
    else:
        kept, left = None, account.at_end
    found = [e for e in (kept, *account.entries()) if e is not None and _worth_a_line(e, account)]
    row = run.inventory.index[target]
    held = {w.vessel: run.outcomes[w.at].after.flasks[w.vessel].of(row) if np.any(left)
            else left for w in weighings}
    return Ledger(target, weighed, held, account.available, left,
                  tuple(sorted(found, key=lambda e: (_position(run, e.step), e.place, e.how))))


def _worth_a_line(entry: Entry, account: _Account) -> bool:
    return bool(np.any(np.abs(entry.mmol) > 1e-15 * np.maximum(account.available, 1.0)))


def _position(run: Run, step: str) -> int:
    return next((i for i, o in enumerate(run.outcomes) if o.step.id == step), -1)


def _richest(run: Run, target: str) -> str:
    """The flask with most of a target when all is done."""
    row, flasks = run.inventory.index[target], run.end.flasks
    return max(flasks, key=lambda name: (float(flasks[name].of(row)[0]), name))


Origins = dict[tuple[str, How], Array]


class _Account:
    """Follows one target through a run, step by step (the working of ``ledger_of``)."""

    def __init__(self, run: Run, target: str, lines: Sequence[Leading]) -> None:
        self._row = run.inventory.index[target]
        self._run, self._target = run, target
        self._lines = lines
        self.available = run.start.everywhere(self._row)
        self.starts_on_line = START_FLASK in self._lines[0].flasks
        self._places: dict[str, Origins] = {}
        held = self._off_line(run.start, self._lines[0])
        for place, mmol in held.items():
            self._places[place] = {("", How.NOT_CARRIED_ON): mmol}
        for i, outcome in enumerate(run.outcomes):
            held = self._carry(i, outcome, held)
        self.at_end = self._on_line(run.end, self._lines[len(run.outcomes)])

    def entries(self) -> Iterator[Entry]:
        """Everything that is off the line at the end."""
        for place, origins in self._places.items():
            for (step, how), mmol in origins.items():
                yield Entry(place, step, how, mmol)

    def _on_line(self, state: State, line: Leading) -> Array:
        found = [f.of(self._row) for n, f in state.flasks.items() if n in line.flasks]
        found += [f[self._row] for n, f in state.films.items() if n in line.films]
        return np.asarray(sum(found, np.zeros_like(self.available)))

    def _off_line(self, state: State, line: Leading) -> dict[str, Array]:
        """What every place off the line holds, (N,) each."""
        places = {n: f.of(self._row) for n, f in state.flasks.items() if n not in line.flasks}
        films = [f[self._row] for n, f in state.films.items() if n not in line.films]
        nothing = np.zeros_like(self.available)
        places[WASTE] = np.asarray(sum((w[self._row] for w in state.waste.values()), nothing))
        places[GLASS] = np.asarray(sum(films, nothing))
        places[AIR] = state.air[self._row]
        places[REACTION] = self.available - state.put_in[self._row]
        return places

    def _carry(
        self, index: int, outcome: Outcome, held: Mapping[str, Array]
    ) -> dict[str, Array]:
        """Book what one step moved: off the line, or from one place off it to another."""
        after = self._off_line(outcome.after, self._lines[index + 1])
        nothing = np.zeros_like(self.available)
        gains = {p: mmol - held.get(p, nothing) for p, mmol in after.items()}
        gains |= {p: -mmol for p, mmol in held.items() if p not in after}
        every = np.stack(list(gains.values()))
        fallen, risen = (dict(zip(gains, np.any(moved, axis=1), strict=True))
                         for moved in (every < 0, every > 0))
        fed_by_line = bool(self._lines[index].flasks.intersection(outcome.step.takes()))
        loose = self._taken({p: g for p, g in gains.items() if fallen[p] and p != REACTION}, held)
        if outcome.step.sets_aside() == (WASTE,) == outcome.step.fills():
            loose = _poured_away(loose, outcome.step.id)
        for place, gain in gains.items():
            brought_in = place == REACTION and fallen[place]
            if not brought_in and not risen[place]:
                continue
            more = gain if brought_in else np.maximum(gain, 0.0)
            origins = self._places.setdefault(place, {})
            if fed_by_line or brought_in or not loose:
                key = outcome.step.id, self._how(outcome, place, self._lines[index + 1], more)
                origins[key] = origins.get(key, nothing) + more
            else:
                self._moved(origins, loose, more)
        return after

    def _taken(self, gains: Mapping[str, Array], held: Mapping[str, Array]) -> Origins:
        """Take out of the places that hold less than before what they lost, by its origin."""
        loose: Origins = {}
        for place, gain in gains.items():
            lost = np.maximum(-gain, 0.0)
            share = np.where(held[place] > 0, lost / np.where(held[place] > 0, held[place], 1), 0)
            origins = self._places.setdefault(place, {})
            for key, mmol in origins.items():
                moved = mmol * share
                loose[key] = loose.get(key, np.zeros_like(mmol)) + moved
                origins[key] = mmol - moved
        return loose

    @staticmethod
    def _moved(origins: Origins, loose: Origins, more: Array) -> None:
        """Put what was taken elsewhere off the line into a place, in the proportion it came."""
        total = np.asarray(sum(loose.values()))
        for key, mmol in loose.items():
            part = np.where(total > 0, mmol / np.where(total > 0, total, 1.0), 1.0 / len(loose))
            origins[key] = origins.get(key, np.zeros_like(more)) + more * part

    def _how(
        self, outcome: Outcome, place: str, line: Leading, more: Array
    ) -> How:
        step = outcome.step
        simple = {GLASS: How.ON_GLASS, AIR: How.EVAPORATED, REACTION: How.REACTED}
        if place in simple:
            return simple[place]
        if isinstance(step, Parting):
            return self._how_parted(outcome, step, place, line, float(more[0]))
        if place in step.takes():
            return How.BOUND if self._is_bound(outcome.after, place) else How.HELD
        return How.DISSOLVED if step.verb == "collect" else How.NOT_CARRIED_ON

    def _how_parted(
        self, outcome: Outcome, step: Parting, place: str, line: Leading, mmol: float
    ) -> How:
        went_on = float(self._on_line(outcome.after, line)[0])
        organic = self._in_organic(outcome, step, place)
        if place == step.keep_in and (organic or mmol > went_on):
            return How.NOT_CARRIED_ON
        if organic:
            return How.PUT_ASIDE if mmol > went_on else How.OTHER_LAYER
        if isinstance(step, Wash):
            return How.WASHED_OUT
        return How.NOT_SET_FREE if self._is_ionised(outcome) else How.OTHER_LAYER

    def _is_bound(self, state: State, place: str) -> bool:
        """Whether more of it is in a solid that holds a drying agent than in the liquid there."""
        there, agents = state.flasks[place], self._run.inventory.agent_rows.values()
        solid, total = float(there.solid[self._row, 0]), float(there.of(self._row)[0])
        return 2.0 * solid > total and any(float(there.solid[row, 0]) > 0 for row in agents)

    def _in_organic(self, outcome: Outcome, step: Parting, place: str) -> bool:
        """Whether a place got an organic layer."""
        flask = outcome.after.flasks.get(place)
        if flask is not None:
            return float(flask.organic[self._row, 0]) > 0.5 * float(flask.of(self._row)[0])
        parted = next((s for s in outcome.facts.shakes if s.two_layers[0] > 0), None)
        if parted is None:
            return False
        organic_kept = (step.keep == "upper") == bool(parted.organic_on_top[0])
        return organic_kept != (place == step.other_in)

    def _is_ionised(self, outcome: Outcome) -> bool:
        inv, shakes = self._run.inventory, outcome.facts.shakes
        substance = inv.tables.substances.get(self._target)
        if substance is None or not substance.pKa or not shakes:
            return False
        pH, pKa = float(shakes[-1].pH[0]), [q.value for q in substance.pKa]
        return pH > min(pKa) if substance.charge_top == 0 else pH < max(pKa)


def _poured_away(loose: Origins, step: str) -> Origins:
    """What stood where the plan had kept it is lost when it is thrown away, not before."""
    found: Origins = {}
    for (at, how), mmol in loose.items():
        key = (step, How.POURED_AWAY) if how is How.NOT_CARRIED_ON else (at, how)
        found[key] = found.get(key, np.zeros_like(mmol)) + mmol
    return found


def ledgers_of(run: Run) -> tuple[Ledger, ...]:
    """One ledger for each target, in the order of the exercise."""
    return tuple(ledger_of(run, t.substance) for t in run.inventory.setup.targets)


def ledger_lines(run: Run) -> tuple[LedgerLine, ...]:
    """The ledgers as an assessment keeps them, what is weighed first."""
    lines = []
    for ledger in ledgers_of(run):
        lines += [_line(ledger, vessel, "", "", mmol)
                  for vessel, mmol in ledger.vessels_mmol.items()]
        lines += [_line(ledger, e.place, e.step, e.how.value, e.mmol) for e in ledger.entries]
    return tuple(line for line in lines if line.high > LEAST_SHARE or not line.how)


def _line(ledger: Ledger, place: str, step: str, how: str, mmol: Array) -> LedgerLine:
    share = ledger.share(mmol)
    low, high = (percentile(share, at) for at in (5.0, 95.0))
    return LedgerLine(ledger.target, place, step, how, float(share[0]), low, high)

