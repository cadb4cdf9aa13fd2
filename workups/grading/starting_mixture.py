"""What is in the flask when the reaction is over, in grams and moles, for an author to check."""

from __future__ import annotations

from dataclasses import dataclass

from workups.chemistry.draws import Draws
from workups.chemistry.plan import START_FLASK
from workups.chemistry.run import prepare

from .exercise import Exercise
from .material_facts import substance_name

_LEAST_mmol = 1e-3


@dataclass(frozen=True)
class MixtureLine:
    """A component of the starting mixture: amount [mmol] and mass [g], nominal."""

    name: str
    amount_mmol: float
    mass_g: float


def starting_mixture(exercise: Exercise) -> tuple[MixtureLine, ...]:
    """The components, most first; ions are counted with what they displace (see components.py)."""
    run = prepare(exercise.setup, Draws(1, 1))
    inv = run.inventory
    total = run.start.flasks[START_FLASK].total()
    lines = [
        MixtureLine(
            substance_name(key), float(amount), float(amount * inv.molar_mass[row] * 1e-3)
        )
        for row, (key, amount) in enumerate(zip(inv.keys, total[:, 0], strict=True))
        if abs(amount) > _LEAST_mmol
    ]
    return tuple(sorted(lines, key=lambda line: -line.amount_mmol))
