"""Limits of practice that more than one place may keep: what is called full, much, or little.

Common practice, no source, unless one is given. What a single rule or page calls much stands
there; what an exercise may set is in ``practice``.
"""

from __future__ import annotations

# Share of a separatory funnel: better not more, and hardly to be shaken beyond (at most three
# quarters: University of Colorado, organic teaching labs procedure).
FUNNEL_WELL_FILLED, FUNNEL_FULL = 2.0 / 3.0, 3.0 / 4.0
# Share of a flask that is swirled, or that a solvent is boiled out of.
FLASK_WELL_FILLED, STRIPPED_FLASK_FILLED = 2.0 / 3.0, 0.5
# Layers nearer than this in density may change places or part badly [g/mL].
CLOSE_DENSITIES_G_ML = 0.03
# Gas, dry, at room temperature [mL]: what lifts a stopper, and what foams over.
LITTLE_GAS_ML, MUCH_GAS_ML = 20.0, 100.0
# Hypochlorite that gives a gas one smells: 12 mL of chlorine [mmol].
LEAST_OXIDANT_MMOL = 0.5
# Volume of a solvent that mixes with water, as share of all liquid: from here it counts.
LEAST_COSOLVENT = 0.10
# What melts above is solid at the bench, and comes out as a solid [C].
SOLID_ABOVE_C = 25.0
# Cooled below this with ice [C].
ICE_BELOW_C = 15.0
# What stands in an ice bath while something is poured into it [C].
ICE_BATH_C = 5.0
