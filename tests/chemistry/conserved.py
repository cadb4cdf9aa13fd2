"""Nothing appears and nothing is lost: how far a state is from it."""

from __future__ import annotations

import numpy as np

from workups.chemistry.state import State


def conservation_error(state: State) -> float:
    """Largest relative deviation between all places and what was put in, over components.

    Relative to the amount put in of that component, or to a millionth of the largest where a
    component is a trace.
    """
    scale = np.maximum(np.abs(state.put_in), 1e-6 * np.abs(state.put_in).max(axis=0))
    scale = np.maximum(scale, 1e-12)
    return float((np.abs(state.everything() - state.put_in) / scale).max())
