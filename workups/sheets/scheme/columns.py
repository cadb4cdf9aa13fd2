"""Where each vessel of a scheme is drawn: rows by what comes first, columns so that arms seldom
cross."""

from dataclasses import dataclass
from itertools import groupby

from workups.sheets.scheme.structure import Kind, Scheme

_CROSSING, _BESIDE_ITS_LEAVES, _TO_THE_LEFT = 6.0, 1.5, 0.1
_FARTHEST = 12


@dataclass(frozen=True)
class Place:
    """Row and column of a vessel, both from 0."""

    row: int
    column: int


@dataclass(frozen=True)
class _Chain:
    """Vessels under each other, and the rows they take; the first hangs on ``parent``."""

    vessels: tuple[int, ...]
    parent: int | None
    rows: range


def places(scheme: Scheme) -> tuple[Place, ...]:
    """The place of each vessel.

    >>> from workups.chemistry.plan import Plan, Separate
    >>> from workups.sheets.scheme.structure import scheme_of
    >>> plan = Plan((Separate(id="1", flask="reaction flask", keep_in="ether", other_in="water"),))
    >>> places(scheme_of(plan, ()))
    (Place(row=0, column=0), Place(row=1, column=0), Place(row=1, column=1))
    """
    rows = _rows(scheme)
    chains = _chains(scheme, rows)
    columns: dict[int, int] = {}
    taken: set[tuple[int, int]] = set()
    waiting = sorted(chains, key=lambda c: (c.parent is not None, -len(c.vessels), c.vessels[0]))
    while waiting:
        chain = next(c for c in waiting if c.parent is None or c.parent in columns)
        waiting.remove(chain)
        column = _column(chain, columns, taken)
        columns.update(dict.fromkeys(chain.vessels, column))
        taken.update((row, column) for row in chain.rows)
    used = sorted(set(columns.values()))
    return tuple(
        Place(rows[i], used.index(columns[i])) for i in range(len(scheme.vessels)))


def _rows(scheme: Scheme) -> list[int]:
    """Under all that leads there; what one step fills stands side by side."""
    rows: list[int] = []
    for _, together in groupby(range(len(scheme.vessels)), key=lambda i: scheme.vessels[i].at):
        goals = tuple(together)
        above = [rows[arm.source] for arm in scheme.arms if arm.goal in goals]
        rows += [1 + max(above) if above else 0] * len(goals)
    return rows


def _chains(scheme: Scheme, rows: list[int]) -> list[_Chain]:
    onward = {arm.source: arm.goal for arm in scheme.arms if arm.kind is Kind.ON}
    begun_by = {arm.goal: arm.source for arm in scheme.arms if arm.kind is not Kind.ON}
    chains = []
    for first in sorted(set(range(len(scheme.vessels))).difference(onward.values())):
        vessels = [first]
        while vessels[-1] in onward:
            vessels.append(onward[vessels[-1]])
        parent = begun_by.get(first)
        # Where it ends in others, its arm goes down in its own column first.
        ends = [rows[arm.goal] - 1 for arm in scheme.arms if arm.source == vessels[-1]]
        last = max([rows[vessels[-1]], *ends])
        chains.append(_Chain(tuple(vessels), parent, range(rows[first], last + 1)))
    return chains


def _column(chain: _Chain, columns: dict[int, int], taken: set[tuple[int, int]]) -> int:
    """The free column that costs least: near its parent, with no arm to cross; a long chain
    leaves room beside its parent for what is put aside there."""
    start = columns[chain.parent] if chain.parent is not None else 0
    free = [
        column for column in range(start - _FARTHEST, start + _FARTHEST + 1)
        if not any((row, column) in taken for row in chain.rows)]

    def cost(column: int) -> tuple[float, int]:
        distance = abs(column - start)
        between = range(min(column, start) + 1, max(column, start))
        crossed = sum(
            (chain.rows.start, c) in taken and (chain.rows.start - 1, c) in taken for c in between)
        close = _BESIDE_ITS_LEAVES if len(chain.vessels) > 1 and distance == 1 else 0.0
        leftward = _TO_THE_LEFT if column < start else 0.0
        return distance + _CROSSING * crossed + close + leftward, column

    return min(free, key=cost)
