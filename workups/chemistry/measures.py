"""What a run achieved: where each target ended, how much, how pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .flow import Leading
from .inventory import Inventory
from .kinds import is_acid_substance
from .plan import WASTE, Transfer
from .run import Run, asked_once
from .state import PHASES, Flask, State
from .sums import over_rows, share_of

Array = NDArray[np.float64]
Rows = NDArray[np.int64]

# A solvent that mixes with water and has less vapour pressure than this in a bath of 40 C does not
# come off with the extraction solvent (common practice, no source).
CLINGS_BELOW_PA, CLINGS_AT_C = 2500.0, 40.0
# Less than this share of a target on the balance is no weighing of it where another is (judgement).
NEXT_TO_NOTHING = 0.1
_EVERY = slice(None)
_GROUPS = ("product", "solvent", "water", "salt", "agent", "acid", "other")


@dataclass(frozen=True)
class TargetMeasure:
    """One target on the balance; arrays (N,).

    ``available_mmol`` and ``available_g`` when the workup begins; ``share`` of it in the product
    flask and in others that count (``product_weighings``); masses [g] of everything there by what
    it is; ``mass_g`` their sum, what a
    balance would show; ``clinging_g`` the part of ``solvent_g`` that boiling down leaves in.
    """

    target: str
    flask: str
    available_mmol: Array
    available_g: Array
    share: Array
    mass_g: Array
    product_g: Array
    solvent_g: Array
    clinging_g: Array
    water_g: Array
    salt_g: Array
    agent_g: Array
    acid_g: Array
    other_g: Array
    weighed: bool
    tared: bool


@dataclass(frozen=True)
class Weighing:
    """A vessel at the moment it was last put on the balance: its name and the step's position."""

    vessel: str
    at: int


def last_weighings(run: Run) -> list[Weighing]:
    """Every weighed vessel with its last weighing, in order."""
    found = {o.step.acts_on: i for i, o in enumerate(run.outcomes)
             if o.facts.weighed_g is not None}
    return sorted((Weighing(name, i) for name, i in found.items()), key=lambda w: w.at)


@asked_once
def product_weighing(run: Run, target: str) -> Weighing | None:
    """The weighing that counts most for a target; None where nothing is weighed.

    That of the exercise's own flask where it names one; else, of the vessels that do not lead to
    one weighed later, the one with most of the target on the balance: among those that something
    came into, else among all. Whether it was tared makes no difference to where the product is.
    """
    candidates = _candidates(run, target)
    return max(candidates, key=lambda w: (_held(run, w, target), w.at)) if candidates else None


@asked_once
def product_weighings(run: Run, target: str) -> tuple[Weighing, ...]:
    """All weighings that count for a target, the one that counts most first: crops in vessels of
    their own are added up.

    A further vessel counts where more than half of what is on the balance is the target, and where
    nothing is done with it, or with the first one, before the last of them is weighed, but to put
    it away into a jar of its own.
    """
    first = product_weighing(run, target)
    if first is None:
        return ()
    more = [w for w in _candidates(run, target)
            if w != first and _is_mostly(run, w, target) and _kept_in(run, first, w.at)]
    end = max(w.at for w in (first, *more))
    return (first, *(w for w in more if _kept_in(run, w, end)))


@asked_once
def leading_to_weighed(run: Run, target: str) -> tuple[Leading, ...]:
    """For each position up to the last weighing that counts, what still leads to a vessel that is
    weighed as the target; where nothing is weighed, to ``product_flask``, up to the end."""
    flow, weighings = run.flow, product_weighings(run, target)
    if not weighings:
        return flow.leading_to(product_flask(run, target))
    end = max(w.at for w in weighings) + 1
    ways = []
    for w in weighings:
        names = _kept_in(run, w, end)
        ways.append((*flow.leading_to(w.vessel, w.at + 1),
                     *[Leading(names, names)] * (end - w.at - 1)))
    return tuple(Leading(frozenset().union(*(way.flasks for way in ways_here)),
                         frozenset().union(*(way.films for way in ways_here)))
                 for ways_here in zip(*ways, strict=True))


def is_only_of_others(run: Run, target: str) -> bool:
    """Whether the vessels that are weighed are other targets' and hold next to nothing of this
    one: its own flask is not weighed."""
    shares = {
        t.substance: sum(_held(run, w, t.substance) for w in product_weighings(run, target))
        / max(float(run.start.everywhere(run.inventory.index[t.substance])[0]), 1e-12)
        for t in run.inventory.setup.targets}
    return shares.pop(target) < NEXT_TO_NOTHING <= max(shares.values(), default=0.0)


def _candidates(run: Run, target: str) -> list[Weighing]:
    """The weighings among which the one that counts is found."""
    weighings = last_weighings(run)
    given = next((t.flask for t in run.inventory.setup.targets if t.substance == target), "")
    named = [w for w in weighings if w.vessel == given]
    if named:
        return named
    flow = run.flow
    last = [w for w in weighings if not any(
        w.vessel in flow.leads_to(later.vessel, later.at)[w.at] for later in weighings
        if later.at > w.at)]
    filled = {name for o in run.outcomes for name in o.step.fills()}
    return [w for w in last if w.vessel in filled] or last


def _kept_in(run: Run, weighing: Weighing, before: int) -> frozenset[str]:
    """The vessels that hold what was weighed until a position: its own, and jars that nothing was
    in which it is poured into; none where anything else is done with it."""
    names = frozenset({weighing.vessel})
    for i, outcome in enumerate(run.outcomes[weighing.at + 1 : before], weighing.at + 1):
        step = outcome.step
        if step.is_passive or step.weighs or not names.intersection((*step.takes(), *step.fills())):
            continue
        into = set(step.fills())
        clean = into.isdisjoint((*run.before(i).flasks, WASTE))
        if not (isinstance(step, Transfer) and clean and names.issuperset(step.takes())):
            return frozenset()
        names = names | into
    return names


def _is_mostly(run: Run, weighing: Weighing, target: str) -> bool:
    """Whether more than half of what is on the balance, by mass, is the target (nominal)."""
    inv, row = run.inventory, run.inventory.index[target]
    contents = run.outcomes[weighing.at].after.flasks[weighing.vessel].total()
    grams = float(contents[row, 0] * inv.molar_mass[row]) * 1e-3
    return grams > 0.5 * float(inv.mass_g(contents)[0])


def _held(run: Run, weighing: Weighing, target: str) -> float:
    """Nominal amount of a target on the balance [mmol]."""
    flask = run.outcomes[weighing.at].after.flasks[weighing.vessel]
    return float(flask.of(run.inventory.index[target])[0])


@asked_once
def product_flask(run: Run, target: str) -> str:
    """The vessel that is weighed as a target; where none is, the exercise's own flask, else the
    one with most of it at the end. What was put aside and not taken up again counts as little
    there as if it had been thrown away."""
    weighing = product_weighing(run, target)
    if weighing is not None:
        return weighing.vessel
    row, flasks = run.inventory.index[target], run.end.flasks
    given = next((t.flask for t in run.inventory.setup.targets if t.substance == target), "")
    if given in flasks:
        return given
    kept = [name for name in flasks if not _is_left_aside(run, name)]
    return max(kept or flasks, key=lambda n: (float(flasks[n].of(row)[0]), n))


def _is_left_aside(run: Run, flask: str) -> bool:
    """Whether what a flask holds was put aside by the last step that filled it, for good."""
    fillings = [i for i, o in enumerate(run.outcomes) if flask in o.step.fills()]
    return bool(fillings) and flask in run.outcomes[fillings[-1]].step.sets_aside() and (
        not run.flow.taken_up_later(fillings[-1], flask))


def contents_weighed(run: Run, target: str) -> Array:
    """What is in the vessels of a target when they are on the balance, else in its flask at the
    end [mmol], (C, N)."""
    weighings = product_weighings(run, target)
    if not weighings:
        return run.end.flasks[product_flask(run, target)].total()
    return np.asarray(sum(
        run.outcomes[w.at].after.flasks[w.vessel].total() for w in weighings))


@asked_once
def measure(run: Run, target: str) -> TargetMeasure:
    """Measure one target on the balance, where nothing is weighed at the end of a run."""
    inv = run.inventory
    row = inv.index[target]
    available = run.start.everywhere(row)
    name = product_flask(run, target)
    contents = contents_weighed(run, target)
    groups = _groups(inv, target)
    mass = {group: _mass(inv, contents, rows) for group, rows in groups.items()}
    return TargetMeasure(
        target, name, available, available * inv.molar_mass[row] * 1e-3,
        share_of(contents[row], available),
        inv.mass_g(contents), mass["product"], mass["solvent"],
        _mass(inv, contents, clinging_rows(inv)), mass["water"], mass["salt"],
        mass["agent"], mass["acid"], mass["other"],
        weighed=name in run.end.weighed, tared=name in run.end.tared)


def clinging_rows(inv: Inventory) -> Rows:
    """Rows of the solvents that mix with water and boil too high to come off a product."""
    pressures = inv.saturation_Pa(CLINGS_AT_C)
    return inv.cosolvent_rows[pressures[inv.cosolvent_rows] < CLINGS_BELOW_PA]


def _mass(inv: Inventory, contents: Array, rows: Rows) -> Array:
    return over_rows(contents[rows] * inv.molar_mass[rows][:, None]) * 1e-3


def neither_water_nor_solvent(inv: Inventory, target: str) -> NDArray[np.bool_]:
    """Which components, beside a target, boiling down is not there to take off, (C,)."""
    comes_off = {row for group in ("product", "solvent", "water")
                 for row in _groups(inv, target)[group]}
    return np.array([row not in comes_off for row in range(len(inv.index))])


def _groups(inv: Inventory, target: str) -> Mapping[str, Rows]:
    """Rows by what they are in a weighed product."""
    if target not in inv.groups:
        targets = {t.substance for t in inv.setup.targets}
        found = [_group(inv, key, target, targets) for key in inv.index]
        inv.groups[target] = {group: np.array(
            [row for row, other in zip(inv.index.values(), found, strict=True) if other == group],
            dtype=np.int64) for group in _GROUPS}
    return inv.groups[target]


def _group(inv: Inventory, key: str, target: str, targets: set[str]) -> str:
    substance = inv.tables.substances.get(key)
    kinds = (
        ("product", key == target),
        ("agent", key.startswith("agent:")),
        ("water", key == "water"),
        ("solvent", key in inv.solvents),
        ("salt", inv.strong_charge[inv.index[key]] != 0 or key == "carbon_dioxide"),
        ("other", key in targets),
        ("solvent", substance is not None and "cosolvent" in substance.classes),
        ("salt", substance is not None and "inorganic" in substance.classes),
        ("acid", substance is not None and is_acid_substance(substance)),
    )
    return next((name for name, holds in kinds if holds), "other")


def place_shares(
    run: Run, state: State, target: str, draws: slice = _EVERY
) -> Mapping[tuple[str, str], Array]:
    """Share of a target by (place, phase): flasks by phase, waste, glass, air, of some draws or
    all, (N,) each."""
    row = run.inventory.index[target]
    total = np.maximum(run.start.everywhere(row)[draws], 1e-12)
    shares: dict[tuple[str, str], Array] = {}
    for name, flask in state.flasks.items():
        for phase in PHASES:
            shares[name, phase] = getattr(flask, phase)[row, draws] / total
    for stream, amounts in state.waste.items():
        shares["waste", stream] = amounts[row, draws] / total
    shares["glass", ""] = np.asarray(sum((f[row, draws] for f in state.films.values()),
                                         np.zeros(len(total)))) / total
    shares["air", ""] = state.air[row, draws] / total
    return shares


def in_organic(inv: Inventory, flask: Flask, target: str) -> Array:
    """Amount of a target in a flask's organic phase [mmol], (N,)."""
    return np.asarray(flask.organic[inv.index[target]])
