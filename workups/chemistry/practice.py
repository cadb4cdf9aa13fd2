"""Common-practice values: what glass, hands and haste do. Grade P unless said otherwise.

Each is a default that an exercise may replace under the same name (``Setup.values``). The
uncertainty is the relative standard uncertainty of a log-normal factor, applied draw by draw.
"""

from __future__ import annotations

from collections.abc import Mapping

from .quantity import Quantity


def _p(value: float, unit: str, relative: float, note: str) -> Quantity:
    return Quantity(value, unit, relative * value, "common practice, no source", "P", note)


PRACTICE: Mapping[str, Quantity] = {
    "film_mL": _p(0.4, "mL", 0.5, "liquid left on the glass when a vessel is poured out"),
    "organic_cut_mL": _p(0.15, "mL", 0.6,
                         "organic layer that goes with the aqueous one at the interface"),
    "neat_droplets_uL_mL": _p(5.0, "uL/mL", 0.6,
                              "water droplets in an organic layer without an extraction solvent, "
                              "right after a shake; as in ether"),
    "paper_mL": _p(0.3, "mL", 0.5, "liquid that filter paper stays wet with"),
    "droplet_settling_min": _p(6.0, "min", 0.4, "time constant for droplets to settle out"),
    "droplet_floor": _p(0.15, "1", 0.4, "share of droplets that does not settle by standing"),
    "brine_clearing": _p(0.15, "1", 0.5,
                         "share of droplets left after a shake with concentrated salt solution"),
    "shake_min": _p(1.0, "min", 0.4, "time the two layers are in contact in one shake"),
    "fines_share": _p(0.03, "1", 0.6, "share of a powder that is poured over when decanted"),
    "boil_off_mL_min": _p(6.0, "mL/min", 0.3, "solvent taken off by a rotary evaporator"),
    "sweep_half_life_min": _p(1.5, "min", 0.4,
                              "time that halves the last solvent under vacuum"),
    "open_half_life_min": _p(12.0, "min", 0.5,
                             "time that halves the solvent in an open dish in the hood"),
    "bump_loss": _p(0.004, "1", 0.8, "share of the product splashed up while stripping"),
    "loose_g": _p(0.3, "g", 0.4, "drying agent that stays loose at the free-flowing endpoint"),
    "carbonation_open": _p(1.0, "1", 0.0,
                           "how far swirling open reaches equilibrium with one atmosphere"),
    "gel_organic_mL_per_mmol": _p(0.05, "mL/mmol", 0.5,
                                  "organic layer that a magnesium hydroxide gel holds back"),
    "gel_slowing": _p(4.0, "1", 0.5,
                      "how many times slower droplets settle where such a gel is in the funnel"),
    "interface_mL": _p(0.3, "mL", 0.6,
                       "water layer that stays with the organic one if the interface does"),
    "wet_flask_mL": _p(0.3, "mL", 0.5, "water in a flask that was rinsed with water, not dried"),
    "agent_binds_mol_mol": _p(0.5, "mol/mol", 0.5,
                              "what a drying agent binds of all that it must not meet together, a "
                              "teaching estimate; reached with the agent's own time constant"),
    "agent_binds_most": _p(0.6, "1", 0.3,
                           "the largest share that it binds for good, however much of it there is, "
                           "rinses included; never more than all"),
    "moist_cake_mL_per_g": _p(0.8, "mL/g", 0.4, "liquid held by a filtered organic solid"),
    "air_dry_half_life_min": _p(30.0, "min", 0.5, "time that halves the water in an open solid"),
}

# Of those without a unit, what is not a share of something.
NO_SHARES = frozenset({"gel_slowing"})


def practice_value(name: str, own: Mapping[str, Quantity]) -> Quantity:
    """The exercise's own value for a practice quantity, else the default."""
    return own.get(name, PRACTICE[name])
