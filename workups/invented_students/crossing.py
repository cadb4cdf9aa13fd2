"""Layers that were hardly mixed: how much of a product is left where it was.

Only what is in the wrong layer before a shake can be left there.
"""

import math
from dataclasses import dataclass

import numpy as np

from workups.chemistry.plan import Parting
from workups.chemistry.run import Run

LEAST_CARRIED = 0.02


@dataclass(frozen=True)
class Carried:
    """One draw of one parting [mmol of a target]: ``across`` crossed of the ``behind`` that had
    to, ``there`` were in the right layer already."""

    step: str
    across: float
    behind: float
    there: float
    portions: int

    @property
    def needed(self) -> float:
        """Share of what goes on that needed the shake."""
        return self.across / (self.across + self.there)

    def kept(self, contact: float) -> float:
        """Share that goes on where each portion meets only a part ``contact`` of the layer."""
        crossing = min(self.across / self.behind, 1.0 - 1e-12)
        left_by_one = math.pow(1.0 - crossing, 1.0 / self.portions)
        left = math.pow(1.0 - contact * (1.0 - left_by_one), self.portions)
        return (self.there + self.behind * (1.0 - left)) / (self.there + self.across)


def carried(run: Run, target: str, draw: int) -> tuple[Carried, ...]:
    """Every parting of a run that had to carry a target from one layer to the other."""
    found = [_one(run, target, draw, at) for at in range(len(run.outcomes))]
    return tuple(c for c in found if c is not None and c.needed > LEAST_CARRIED)


def _one(run: Run, target: str, draw: int, at: int) -> Carried | None:
    step, after = run.outcomes[at].step, run.outcomes[at].after
    if not isinstance(step, Parting):
        return None
    row = run.inventory.index[target]

    def of(amounts: np.ndarray) -> float:
        return float(amounts[row, draw])

    poured = [after.flasks[f] for f in (step.keep_in, step.other_in) if f in after.flasks]
    if not poured:
        return None
    onward = max(poured, key=lambda flask: of(flask.total()))
    before = run.before(at).flasks[step.flask]
    organic = of(onward.organic) >= of(onward.droplets) + of(onward.aqueous)
    there = of(before.organic) if organic else of(before.droplets) + of(before.aqueous)
    behind = of(before.total()) - there
    across = of(onward.total()) - there
    if behind <= 1e-9 or across <= 1e-9:
        return None
    return Carried(step.id, min(across, behind), behind, there, step.shakes)
