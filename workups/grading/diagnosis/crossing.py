"""What had to cross from one layer to the other in a shake, and how much of it would stay behind.

A product that is in the right layer before a shake needs no shaking to be there after it. Of what
is in the other layer (or undissolved) a portion brings the share E across at equilibrium, with all
n portions R = 1 - (1 - E)^n. Shaken so poorly that each portion does only a part f of its work,
n portions bring R(f) = 1 - (1 - f E)^n across.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.plan import Parting
from workups.chemistry.run import Run
from workups.chemistry.state import Flask

Array = NDArray[np.float64]

_LEAST_MMOL = 1e-9


@dataclass(frozen=True)
class Crossing:
    """One target in one parting; arrays (N,).

    ``share`` of what the flask it goes on in holds afterwards had to cross; ``recovered`` the
    share R of what was on the wrong side that crossed, with ``portions`` portions.
    """

    step: str
    share: Array
    recovered: Array
    portions: int

    def kept(self, mixed: Array) -> Array:
        """Share of the target that is still carried on (N, k) where each portion does the parts
        ``mixed`` (k,) of its work, 0 (not shaken at all) to 1 (to equilibrium)."""
        whole = self.recovered[:, None]
        each = 1.0 - (1.0 - np.minimum(whole, 1.0 - 1e-12)) ** (1.0 / self.portions)
        reached = 1.0 - (1.0 - mixed * each) ** self.portions
        return np.asarray(1.0 - self.share[:, None] * (1.0 - reached / np.maximum(whole, 1e-12)))


def crossings(run: Run, target: str) -> Iterator[Crossing]:
    """All partings in which some of a target crossed into the layer that it goes on in."""
    row = run.inventory.index[target]
    for at, step, _ in run.of(Parting):
        before = run.before(at).flasks.get(step.flask)
        found = None if before is None else _crossed(run, at, step, before, row)
        if found is not None:
            yield found


def _crossed(run: Run, at: int, step: Parting, before: Flask, row: int) -> Crossing | None:
    """What crossed, if the layer the target goes on in is one that the parting poured out."""
    after = run.outcomes[at].after
    ends = [after.flasks[n] for n in {step.keep_in, step.other_in} if n in after.flasks]
    if not ends:
        return None
    goes_on = max(ends, key=lambda f: float(np.median(f.of(row))))
    held = goes_on.of(row)
    in_organic = float(np.median(goes_on.organic[row])) >= 0.5 * float(np.median(held))
    there = before.organic[row] if in_organic else before.droplets[row] + before.aqueous[row]
    crossed = np.clip(held - there, 0.0, None)
    wrong_side = before.of(row) - there
    if float(np.median(held)) < _LEAST_MMOL or float(np.median(wrong_side)) < _LEAST_MMOL:
        return None
    share = crossed / np.maximum(held, _LEAST_MMOL)
    recovered = np.clip(crossed / np.maximum(wrong_side, _LEAST_MMOL), 0.0, 1.0)
    return Crossing(step.id, share, recovered, step.shakes)
