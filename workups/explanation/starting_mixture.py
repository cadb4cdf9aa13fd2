"""What is in the flask when the reaction is over, in grams and moles, for an author to check."""

from dataclasses import dataclass

from workups.chemistry.draws import Draws
from workups.chemistry.materials import reagent_mmol
from workups.chemistry.plan import START_FLASK
from workups.chemistry.run import prepare
from workups.exercise.exercise import Exercise
from workups.words.material_facts import substance_name

_LEAST_mmol = 1e-3


@dataclass(frozen=True)
class MixtureLine:
    """A component of the starting mixture: amount [mmol] and mass [g], nominal."""

    name: str
    amount_mmol: float
    mass_g: float


@dataclass(frozen=True)
class ChargeLine:
    """A reagent as charged: amount [mmol], and how many equivalents of the limiting one, None
    for what does not react."""

    name: str
    amount_mmol: float
    equivalents: float | None


def charge_lines(exercise: Exercise) -> tuple[ChargeLine, ...]:
    """The reagents in the order of the table; the limiting one has 1 equivalent."""
    known, reagents = exercise.setup.tables, exercise.setup.reaction.reagents
    per = [reagent_mmol(r, known) / r.coefficient for r in reagents if r.coefficient > 0]
    least = min(per, default=0.0)
    return tuple(
        ChargeLine(
            substance_name(r.substance, known),
            reagent_mmol(r, known),
            reagent_mmol(r, known) / r.coefficient / least if r.coefficient and least else None,
        )
        for r in reagents
    )


def starting_mixture(exercise: Exercise) -> tuple[MixtureLine, ...]:
    """The components, most first; ions are counted with what they displace (see components.py)."""
    run = prepare(exercise.setup, Draws(1, 1))
    inv = run.inventory
    total = run.start.flasks[START_FLASK].total()
    lines = [
        MixtureLine(
            substance_name(key, inv.tables),
            float(amount),
            float(amount * inv.molar_mass[row] * 1e-3),
        )
        for row, (key, amount) in enumerate(zip(inv.keys, total[:, 0], strict=True))
        if abs(amount) > _LEAST_mmol
    ]
    return tuple(sorted(lines, key=lambda line: -line.amount_mmol))
