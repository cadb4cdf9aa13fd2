"""Stocks of several groups put together: sections of a week, or variants within a section."""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

from .stock import Stock

Thing = TypeVar("Thing")


def added(stocks: Sequence[Stock]) -> Stock:
    """Several stocks put together: like things are added up, in the order in which they come.

    Raises ValueError where there is nothing to add.
    """
    if not stocks:
        raise ValueError("no stock to add up")
    return Stock(
        students=sum(s.students for s in stocks),
        spare=max(s.spare for s in stocks),
        needs=_summed(
            [n for s in stocks for n in s.needs],
            lambda n: (n.kind, n.key, n.unit),
            lambda a, b: replace(
                a, amount=a.amount + b.amount, uses=tuple(dict.fromkeys((*a.uses, *b.uses)))
            ),
        ),
        glass=_summed(
            [g for s in stocks for g in s.glass],
            lambda g: (g.kind, g.name, g.size_mL),
            lambda a, b: replace(
                a, count=a.count + b.count, fullest_mL=max(a.fullest_mL, b.fullest_mL)
            ),
        ),
        waste=_summed(
            [w for s in stocks for w in s.waste],
            lambda w: w.stream,
            lambda a, b: replace(
                a,
                volume_mL=a.volume_mL + b.volume_mL,
                solid_g=a.solid_g + b.solid_g,
                holds=tuple(dict.fromkeys((*a.holds, *b.holds))),
                hazards=tuple(sorted({*a.hazards, *b.hazards})),
            ),
        ),
        instruments=_summed(
            [i for s in stocks for i in s.instruments],
            lambda i: i.name,
            lambda a, b: replace(a, uses=a.uses + b.uses, minutes=a.minutes + b.minutes),
        ),
        sundries=_summed(
            [s for stock in stocks for s in stock.sundries],
            lambda s: s.name,
            lambda a, b: replace(a, count=a.count + b.count),
        ),
    )


def _summed(
    things: Iterable[Thing],
    key: Callable[[Thing], Hashable],
    put_together: Callable[[Thing, Thing], Thing],
) -> tuple[Thing, ...]:
    found: dict[Hashable, Thing] = {}
    for thing in things:
        same = found.get(key(thing))
        found[key(thing)] = thing if same is None else put_together(same, thing)
    return tuple(found.values())
