"""Flasks and what is in them; where everything is at one moment.

All amounts are arrays (C, N) in mmol and are never changed in place: a step makes new flasks and
shares the untouched ones, so that every moment of a run can be kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from .inventory import Inventory

Array = NDArray[np.float64]

PHASES = ("organic", "droplets", "aqueous", "solid")


@dataclass(frozen=True)
class Flask:
    """One vessel. ``droplets`` are water drops suspended in the organic phase.

    ``solid`` holds drying agent with its water and what it soaked up, and precipitate.
    ``pH`` is that of the water layer when last at equilibrium. ``celsius`` is one number or (N,).
    ``in_funnel``: this liquid is still standing in the separatory funnel.
    """

    organic: Array
    droplets: Array
    aqueous: Array
    solid: Array
    pH: Array | None = None
    celsius: Array | float = 20.0
    in_funnel: bool = False

    @property
    def nominal_C(self) -> float:
        """How warm it is in the first draw [C]."""
        return float(np.ravel(self.celsius)[0])

    def total(self) -> Array:
        """Everything in the flask [mmol], (C, N)."""
        return self.organic + self.droplets + self.aqueous + self.solid

    def of(self, row: int) -> Array:
        """One component in the flask [mmol], (N,)."""
        return np.asarray(
            self.organic[row] + self.droplets[row] + self.aqueous[row] + self.solid[row])

    def liquid(self) -> Array:
        """Everything liquid in the flask [mmol], (C, N)."""
        return self.organic + self.droplets + self.aqueous

    def times(self, share: Array | float) -> Flask:
        """The same flask with a share of every phase, (N,) or a number."""
        return replace(self, organic=self.organic * share, droplets=self.droplets * share,
                       aqueous=self.aqueous * share, solid=self.solid * share)

    def plus(self, other: Flask) -> Flask:
        """Two flasks poured together, phase by phase, without shaking."""
        pH = self.pH if other.pH is None else other.pH if self.pH is None else None
        warm = np.maximum(self.celsius, other.celsius)
        return Flask(self.organic + other.organic, self.droplets + other.droplets,
                     self.aqueous + other.aqueous, self.solid + other.solid, pH, warm,
                     self.in_funnel or other.in_funnel)


def empty_flask(inv: Inventory) -> Flask:
    """A clean, dry flask."""
    nothing = inv.none()
    return Flask(nothing, nothing, nothing, nothing, celsius=inv.room_C)


@dataclass(frozen=True)
class State:
    """Everything on the bench, in the waste, on the glass and in the air at one moment.

    ``put_in`` is all that was ever put in, with what reactions turned over added or taken off;
    it equals the sum of all places (see ``conservation``). ``films`` by flask name is what
    clings to the glass of an emptied flask; ``waste`` by stream; ``air`` left as vapour or gas.
    """

    flasks: Mapping[str, Flask]
    waste: Mapping[str, Array]
    films: Mapping[str, Array]
    air: Array
    put_in: Array
    tared: frozenset[str] = frozenset()
    labelled: frozenset[str] = frozenset()
    stripped: frozenset[str] = frozenset()
    weighed: Mapping[str, Array] = field(default_factory=dict)
    discarded: frozenset[str] = frozenset()

    def with_flask(self, name: str, flask: Flask) -> State:
        """The same bench with one flask in another condition."""
        return replace(self, flasks={**self.flasks, name: flask})

    def pouring_into(self, name: str, what: Flask) -> State:
        """The same bench with something poured into a flask, new or not."""
        there = self.flasks.get(name)
        return self.with_flask(name, what if there is None else there.plus(what))

    def with_film(self, name: str, film: Array) -> State:
        """The same bench with more liquid clinging to a vessel."""
        there = self.films.get(name)
        return replace(self, films={**self.films, name: film if there is None else there + film})

    def with_air(self, gone: Array) -> State:
        """The same bench with something gone into the air."""
        return replace(self, air=self.air + gone)

    def with_input(self, added: Array) -> State:
        """The same bench with something new put in (or turned over by a reaction)."""
        return replace(self, put_in=self.put_in + added)

    def with_waste(self, stream: str, amounts: Array) -> State:
        """The same bench with something poured into a waste stream."""
        there = self.waste.get(stream)
        total = amounts if there is None else there + amounts
        return replace(self, waste={**self.waste, stream: total})

    def everything(self) -> Array:
        """Sum over all places [mmol], (C, N)."""
        total = self.air
        for flask in self.flasks.values():
            total = total + flask.total()
        for amounts in (*self.waste.values(), *self.films.values()):
            total = total + amounts
        return total

    def everywhere(self, row: int) -> Array:
        """Sum of one component over all places [mmol], (N,)."""
        total = self.air[row]
        for flask in self.flasks.values():
            total = total + flask.of(row)
        for amounts in (*self.waste.values(), *self.films.values()):
            total = total + amounts[row]
        return np.asarray(total)
