"""Nothing appears and nothing is lost: the invariant behind every number."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .inventory import Inventory
from .state import State

Array = NDArray[np.float64]

TOLERANCE = 1e-9


class NotConserved(ArithmeticError):
    """Amounts after a step do not add up to what was put in; the message names the component."""


def check_conserved(inv: Inventory, start: State, state: State, step: str) -> None:
    """Raise NotConserved if a component (or with it charge) is off by more than 1e-9, or an amount
    negative; what was less than nothing at the start (water that a reagent takes up) is owed."""
    scale = np.maximum(np.abs(state.put_in), 1e-6 * np.abs(state.put_in).max(axis=0))
    totals = [flask.total() for flask in state.flasks.values()]
    everything = sum((*totals, *state.waste.values(), *state.films.values()), state.air)
    off = np.abs(everything - state.put_in) / np.maximum(scale, 1e-12)
    worst = off.max(axis=1)
    row = int(worst.argmax())
    if not worst[row] <= TOLERANCE:
        raise NotConserved(
            f"after step {step!r}: {inv.names[inv.keys[row]]} is off by {worst[row]:.1e}")
    owed = np.minimum(start.put_in, 0.0)
    lowest = min(float((total - owed).min(initial=0.0)) for total in totals)
    if lowest < -TOLERANCE * float(np.abs(state.put_in).max()):
        raise NotConserved(f"after step {step!r}: an amount became negative ({lowest:.1e} mmol)")
