"""What is stirred together in a flask, and a solid that is stirred with a liquid to clean it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from . import slow
from .at_once import turned_over_at_once
from .contact import contact
from .facts import Facts
from .inventory import Inventory
from .isolation import agents_only
from .materials import is_solvent, poured
from .plan import WASTE, Triturate
from .state import Flask, State, empty_flask
from .sums import over_rows

Array = NDArray[np.float64]

_HANDLING_MIN = 2.0
_MOST_HELD = 0.9
_WATER_STREAM = "aqueous"


@dataclass(frozen=True)
class Stirred:
    """A flask after stirring: gas that came off [mmol], (N,), that gas with the vapours it took
    along, and what reacted, as in Facts."""

    flask: Flask
    gas_mmol: Array
    escaped_mmol: Array
    reacted: Mapping[str, Array]


def stirred_together(
    inv: Inventory, state: State, mixed: Flask, minutes: float
) -> tuple[State, Stirred]:
    """Let everything in an open flask react and come to equilibrium while it is stirred; what
    does not stay dissolved is solid. Drying agent is left as it is."""
    held_back = agents_only(inv, mixed.solid)
    change = turned_over_at_once(inv, mixed.total() - held_back)
    state = state.with_input(change)
    touched = contact(inv, mixed.total() - held_back + change, solids=True)
    state = state.with_air(touched.escaped)
    state, split, turned = slow.stirred(inv, state, touched.split, minutes)
    flask = replace(mixed, organic=split.organic, droplets=inv.none(), aqueous=split.aqueous,
                    solid=held_back + split.solid, pH=split.pH)
    return state, Stirred(flask, touched.gas_mmol, over_rows(touched.escaped), turned)


def triturate(inv: Inventory, state: State, step: Triturate) -> tuple[State, Facts]:
    """Stir with each portion, let settle and take the liquid off; the solid stays.

    A substance that melts above room temperature stays solid beyond its solubility, S in water
    and K S in an organic solvent. An oil mixes with an organic solvent and leaves with it; from a
    watery liquid it parts and stays. A moist solid holds liquid back, and so does the glass.
    """
    flask, gas, escaped = state.flasks[step.flask], np.zeros(inv.count), np.zeros(inv.count)
    taken_off, reacted = empty_flask(inv), dict[str, Array]()
    for _ in range(step.portions):
        fresh = poured(inv, step.material, step.volume_mL)
        state = state.with_input(fresh.total())
        state, stirred = stirred_together(inv, state, flask.plus(fresh), step.minutes)
        off = _off_the_solid(inv, stirred.flask, oil_too=is_solvent(inv, step.material))
        flask = replace(stirred.flask, organic=stirred.flask.organic - off.organic,
                        aqueous=stirred.flask.aqueous - off.aqueous)
        taken_off, gas = taken_off.plus(off), gas + stirred.gas_mmol
        escaped = escaped + stirred.escaped_mmol
        reacted = {k: v + reacted.get(k, 0.0) for k, v in stirred.reacted.items()}
    state = state.with_flask(step.flask, replace(flask, celsius=inv.room_C, in_funnel=False))
    state = (state.with_waste(_stream(inv, step.material), taken_off.total())
             if step.liquid_in == WASTE else state.pouring_into(step.liquid_in, taken_off))
    minutes = step.portions * (step.minutes + _HANDLING_MIN)
    return state, Facts(gas_mmol=gas, escaped_mmol=escaped, minutes=minutes, reacted=reacted)


def _off_the_solid(inv: Inventory, flask: Flask, *, oil_too: bool) -> Flask:
    """The liquid that comes off a settled solid: all of it, or only the water layer."""
    organic = flask.organic if oil_too else inv.none()
    volume = inv.volume_mL(organic + flask.aqueous)
    held_mL = inv.practice["moist_cake_mL_per_g"] * inv.mass_g(flask.solid)
    held_mL = held_mL + inv.practice["film_mL"]
    held = np.minimum(held_mL / np.maximum(volume, 1e-9), _MOST_HELD)
    return replace(empty_flask(inv), organic=organic * (1.0 - held),
                   aqueous=flask.aqueous * (1.0 - held), pH=flask.pH)


def _stream(inv: Inventory, material: str) -> str:
    known = inv.tables.solvents
    return known[material].waste_stream if material in known else _WATER_STREAM
