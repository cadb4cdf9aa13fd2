"""A linear scale with round ticks."""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Scale:
    """Maps values from ``low`` to ``high`` onto coordinates from ``start`` to ``end``."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def ticks(self, most: int = 6) -> list[float]:
        """Round values (steps of 1, 2 or 5) inside the scale, at most ``most`` of them."""
        step = round_step(self.high - self.low, most)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return [i * step for i in range(first, last + 1)]


def round_step(span: float, most: int) -> float:
    """The smallest step of 1, 2 or 5 times a power of ten that gives at most ``most`` ticks."""
    power = 10.0 ** math.floor(math.log10(span / most))
    return next(m * power for m in (1, 2, 5, 10, 20) if span / (m * power) <= most - 1)


def decimals_of_step(step: float) -> int:
    """Decimals that a tick needs."""
    return max(0, -math.floor(math.log10(step) + 1e-9))
