"""What one step did, as numbers: the raw material of reports and findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ShakeFacts:
    """One shake of two layers; arrays (N,).

    ``organic_on_top`` 1 or 0 per draw, ``two_layers`` likewise; densities g/mL; volumes mL;
    ``fill`` share of the funnel's capacity; gas as set free when the funnel is opened;
    ``stoppered_Pa`` absolute pressure had it been stoppered at once; ``reacted`` mmol turned
    over by slow reactions, by substrate; ``gel_mmol`` magnesium out as hydroxide; ``celsius`` of
    what went into the funnel.
    """

    two_layers: Array
    organic_on_top: Array
    organic_density: Array
    aqueous_density: Array
    organic_mL: Array
    aqueous_mL: Array
    pH: Array
    fill: Array
    gas_mmol: Array
    co2_Pa: Array
    escaped: Array
    stoppered_Pa: Array
    reacted: Mapping[str, Array]
    celsius: float
    moved: Array
    gel_mmol: Array

    @property
    def density_difference(self) -> Array:
        """Aqueous minus organic density [g/mL], (N,)."""
        return self.aqueous_density - self.organic_density


@dataclass(frozen=True)
class DryFacts:
    """One use of a drying agent; amounts (N,).

    ``load_mmol`` water to be taken up by the agent for it to reach equilibrium; ``held_ratio``
    mol water per mol salt; ``free_mL`` liquid water left around it; ``needed_g`` agent for the
    free-flowing endpoint; ``bound_product`` mmol of each target taken by an incompatible agent.
    """

    agent: str
    mass_g: Array
    needed_g: Array
    water_before_mmol: Array
    water_after_mmol: Array
    droplets_after_mL: Array
    held_ratio: Array
    free_mL: Array
    water_activity: Array
    agent_look: str
    liquid_look: str
    bound_product: Mapping[str, Array]
    wrong_layer: bool


@dataclass(frozen=True)
class StripFacts:
    """One removal of solvent; amounts (N,), masses g.

    ``minutes`` of boiling off, 0 where the solvent did not boil at that bath and pressure;
    ``lost`` mmol of each substance gone with the vapour, by key.
    """

    minutes: Array
    lost: Mapping[str, Array]
    solid_present: bool
    left_solvent_g: Array


@dataclass(frozen=True)
class Facts:
    """Everything a step reports.

    ``gas_mmol`` dry gas set free; ``escaped_mmol`` that gas with the vapours it took along, where
    it was stirred in the open, (N,). ``reacted`` mmol turned over by slow reactions while it was
    stirred or stood, by substrate; those of shakes are with the shakes.
    """

    shakes: tuple[ShakeFacts, ...] = ()
    drying: DryFacts | None = None
    strip: StripFacts | None = None
    gas_mmol: Array | None = None
    escaped_mmol: Array | None = None
    weighed_g: Array | None = None
    minutes: float = 0.0
    problems: tuple[str, ...] = ()
    looks: tuple[str, ...] = field(default=())
    reacted: Mapping[str, Array] = field(default_factory=dict)
