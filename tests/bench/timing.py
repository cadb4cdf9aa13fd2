"""Times as ratios within one run, and how a time grows."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass


def seconds(work: Callable[[], object], repeats: int = 3) -> float:
    """The shortest of some runs: what the machine does besides only ever adds."""
    shortest = math.inf
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        shortest = min(shortest, time.perf_counter() - began)
    return shortest


def turns(*works: Callable[[], object], repeats: int = 3) -> list[float]:
    """The shortest time of each of several pieces of work, done by turns.

    So what else the machine does at the moment hits all of them alike.
    """
    return [min(column) for column in zip(
        *([seconds(work, 1) for work in works] for _ in range(repeats)), strict=True)]


def exponent(sizes: Sequence[float], times: Sequence[float]) -> float:
    """Slope b of log(time) against log(size): time grows as size^b, by least squares.

    >>> round(exponent([1, 10, 100], [2, 20, 200]), 6)
    1.0
    """
    x, y = [math.log(s) for s in sizes], [math.log(t) for t in times]
    middle_x, middle_y = sum(x) / len(x), sum(y) / len(y)
    return (sum((a - middle_x) * (b - middle_y) for a, b in zip(x, y, strict=True))
            / sum((a - middle_x) ** 2 for a in x))


@dataclass(frozen=True)
class Figure:
    """One measured figure beside what is asked of it."""

    what: str
    measured: float
    asked: float
    at_least: bool = False
    details: str = ""

    @property
    def holds(self) -> bool:
        """Whether what is asked is reached."""
        return (self.measured >= self.asked) if self.at_least else (self.measured <= self.asked)

    def line(self) -> str:
        """What was measured, what was asked, and whether it holds."""
        bound = "at least" if self.at_least else "at most"
        verdict = "holds" if self.holds else "FALLS SHORT"
        return (f"{self.what:58} {self.measured:9.3g}  asked: {bound} {self.asked:g}  {verdict}"
                + (f"\n    {self.details}" if self.details else ""))


def growth(what: str, sizes: Sequence[int], times: Sequence[float], most: float = 1.0) -> Figure:
    """How a time grows with a size: the exponent, held against linear growth."""
    points = ", ".join(f"{s}: {t:.3g} s" for s, t in zip(sizes, times, strict=True))
    return Figure(what, exponent(sizes, times), most, details=points)


def printed(figures: Iterable[Figure]) -> int:
    """Print each figure as soon as it is there; the exit status, 1 where one does not hold."""
    short = 0
    for figure in figures:
        print(figure.line(), flush=True)  # noqa: T201
        short += not figure.holds
    return 1 if short else 0
