"""Counter-based random draws: the same number for the same seed, name and draw index.

Draw 0 is the nominal run: every normal deviate there is exactly 0. Values do not depend on how
many draws are asked for, or on the block they are computed in.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_GAMMA = np.uint64(0x9E3779B97F4A7C15)
_MIX_1 = np.uint64(0xBF58476D1CE4E5B9)
_MIX_2 = np.uint64(0x94D049BB133111EB)
_TO_UNIT = 2.0**-53
# Deviates of so many names are kept: some 300 in an exercise, 4 kB each with 500 draws.
MOST_KEPT = 1024


def _mixed(counter: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """The SplitMix64 finaliser (Steele, Lea, Flood 2014, doi 10.1145/2714064.2660195)."""
    with np.errstate(over="ignore"):
        z = counter.copy()
        z = (z ^ (z >> np.uint64(30))) * _MIX_1
        z = (z ^ (z >> np.uint64(27))) * _MIX_2
    return z ^ (z >> np.uint64(31))


@dataclass(frozen=True)
class Draws:
    """Draws ``start`` to ``start + count`` of a seeded, infinite table of random numbers.

    >>> whole, part = Draws(7, 10), Draws(7, 4, start=6)
    >>> bool((whole.normal("pKa1:phenol")[6:] == part.normal("pKa1:phenol")).all())
    True
    """

    seed: int
    count: int
    start: int = 0

    def _key(self, name: str, lane: int) -> np.uint64:
        digest = hashlib.blake2b(f"{self.seed}\x00{name}\x00{lane}".encode(), digest_size=8)
        return np.uint64(int.from_bytes(digest.digest(), "little"))

    def uniform(self, name: str, lane: int = 0) -> Array:
        """Uniform deviates in (0, 1), shape (count,)."""
        index = np.arange(self.start, self.start + self.count, dtype=np.uint64)
        with np.errstate(over="ignore"):
            counter = index * _GAMMA + self._key(name, lane)
        bits = _mixed(_mixed(counter)) >> np.uint64(11)
        return (bits.astype(np.float64) + 0.5) * _TO_UNIT

    def normal(self, name: str) -> Array:
        """Standard normal deviates, shape (count,); exactly 0 in draw 0. Not to be written to."""
        return _normal(self, name)

    def around(self, name: str, value: float, uncertainty: float) -> Array:
        """Normal about ``value`` with a standard uncertainty, same unit, shape (count,)."""
        return value + uncertainty * self.normal(name)

    def factor(self, name: str, relative: float) -> Array:
        """Log-normal factor about 1 with a relative standard uncertainty, shape (count,)."""
        return np.asarray(np.exp(np.log1p(relative) * self.normal(name)), dtype=np.float64)

    def spread(self, name: str, low: float, nominal: float, high: float) -> Array:
        """Two-piece normal with 5th, 50th and 95th percentile as given, shape (count,)."""
        z = self.normal(name) / 1.6448536269514722
        return np.where(z < 0, nominal + z * (nominal - low), nominal + z * (high - nominal))


@lru_cache(maxsize=MOST_KEPT)
def _normal(draws: Draws, name: str) -> Array:
    """By Box and Muller; kept, for every record of a class draws the same constants again."""
    radius = np.sqrt(-2.0 * np.log(draws.uniform(name, 0)))
    z = radius * np.cos(2.0 * np.pi * draws.uniform(name, 1))
    if draws.start == 0 and draws.count:
        z[0] = 0.0
    z.flags.writeable = False
    return np.asarray(z, dtype=np.float64)
