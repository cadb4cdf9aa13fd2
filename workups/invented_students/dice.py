"""Named dice: the same throw for the same seed and name, whatever else is thrown."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from workups.chemistry.draws import Draws

T = TypeVar("T")


@dataclass(frozen=True)
class Dice:
    """Throws of one student. ``seed`` is at least 0."""

    seed: int

    def unit(self, name: str) -> float:
        """Uniform in (0, 1)."""
        return float(Draws(self.seed, 1, 1).uniform(f"dice:{name}")[0])

    def normal(self, name: str) -> float:
        """Standard normal."""
        return float(Draws(self.seed, 1, 1).normal(f"dice:{name}")[0])

    def between(self, name: str, low: float, high: float) -> float:
        """Uniform in an interval."""
        return low + (high - low) * self.unit(name)

    def log_between(self, name: str, low: float, high: float) -> float:
        """Uniform in the logarithm; both ends positive."""
        return math.exp(self.between(name, math.log(low), math.log(high)))

    def chance(self, name: str, probability: float) -> bool:
        """True with a probability."""
        return self.unit(name) < probability

    def pick(self, name: str, options: Sequence[T]) -> T:
        """One of several, all alike."""
        return options[min(int(self.unit(name) * len(options)), len(options) - 1)]

    def weighted(self, name: str, options: Sequence[tuple[T, float]]) -> T:
        """One of several (option, weight) pairs."""
        left = self.unit(name) * sum(w for _, w in options)
        for option, weight in options:
            left -= weight
            if left < 0:
                return option
        return options[-1][0]
