"""What a run achieved: where each target ended, how much, how pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .inventory import Inventory
from .kinds import is_acid_substance
from .run import Run
from .state import PHASES, Flask, State
from .sums import over_rows

Array = NDArray[np.float64]


@dataclass(frozen=True)
class TargetMeasure:
    """One target at the end of a run; arrays (N,).

    ``available_mmol`` when the workup begins; ``share`` of it in the product flask; masses [g]
    of everything in that flask by what it is; ``mass_g`` their sum, what a balance would show.
    """

    target: str
    flask: str
    available_mmol: Array
    share: Array
    mass_g: Array
    product_g: Array
    solvent_g: Array
    water_g: Array
    salt_g: Array
    agent_g: Array
    acid_g: Array
    other_g: Array
    weighed: bool
    tared: bool

    @property
    def water_and_salt_share(self) -> Array:
        """Mass fraction of water, salt and drying agent in what is weighed, (N,)."""
        foreign = self.water_g + self.salt_g + self.agent_g
        return np.where(self.mass_g > 0, foreign / np.where(self.mass_g > 0, self.mass_g, 1), 0.0)


def product_flask(run: Run, target: str) -> str:
    """The flask a target ends in: weighed with most of it, else where most of it is."""
    row = run.inventory.index[target]
    end = run.end
    given = next((t.flask for t in run.inventory.setup.targets if t.substance == target), "")
    if given in end.flasks:
        return given
    weighed = [n for n in end.weighed if n in end.flasks]
    candidates = weighed or list(end.flasks)
    return max(candidates, key=lambda n: (float(end.flasks[n].total()[row, 0]), n))


def measure(run: Run, target: str) -> TargetMeasure:
    """Measure one target at the end of a run."""
    inv = run.inventory
    row = inv.index[target]
    available = run.start.everything()[row]
    name = product_flask(run, target)
    contents = run.end.flasks[name].total()
    groups = _groups(inv, target)
    mass = {group: _mass(inv, contents, rows) for group, rows in groups.items()}
    return TargetMeasure(
        target, name, available,
        np.where(available > 0, contents[row] / np.where(available > 0, available, 1.0), 0.0),
        inv.mass_g(contents), mass["product"], mass["solvent"], mass["water"], mass["salt"],
        mass["agent"], mass["acid"], mass["other"],
        weighed=name in run.end.weighed, tared=name in run.end.tared)


def _mass(inv: Inventory, contents: Array, rows: list[int]) -> Array:
    return over_rows(contents[rows] * inv.molar_mass[rows][:, None]) * 1e-3


def _groups(inv: Inventory, target: str) -> Mapping[str, list[int]]:
    """Rows by what they are in a weighed product."""
    groups: dict[str, list[int]] = {g: [] for g in (
        "product", "solvent", "water", "salt", "agent", "acid", "other")}
    targets = {t.substance for t in inv.setup.targets}
    for key, row in inv.index.items():
        groups[_group(inv, key, target, targets)].append(row)
    return groups


def _group(inv: Inventory, key: str, target: str, targets: set[str]) -> str:
    substance = inv.tables.substances.get(key)
    kinds = (
        ("product", key == target),
        ("agent", key.startswith("agent:")),
        ("water", key == "water"),
        ("solvent", key in inv.solvents),
        ("salt", inv.strong_charge[inv.index[key]] != 0 or key == "carbon_dioxide"),
        ("other", key in targets),
        ("solvent", substance is not None and "cosolvent" in substance.classes),
        ("salt", substance is not None and "inorganic" in substance.classes),
        ("acid", substance is not None and is_acid_substance(substance)),
    )
    return next((name for name, holds in kinds if holds), "other")


def place_shares(run: Run, state: State, target: str) -> Mapping[tuple[str, str], Array]:
    """Share of a target by (place, phase): flasks by phase, waste, glass, air, (N,) each."""
    inv = run.inventory
    row = inv.index[target]
    total = np.maximum(run.start.everything()[row], 1e-12)
    shares: dict[tuple[str, str], Array] = {}
    for name, flask in state.flasks.items():
        for phase in PHASES:
            shares[name, phase] = getattr(flask, phase)[row] / total
    for stream, amounts in state.waste.items():
        shares["waste", stream] = amounts[row] / total
    shares["glass", ""] = np.asarray(sum((f[row] for f in state.films.values()),
                                         np.zeros(inv.count))) / total
    shares["air", ""] = state.air[row] / total
    return shares


def in_organic(inv: Inventory, flask: Flask, target: str) -> Array:
    """Amount of a target in a flask's organic phase [mmol], (N,)."""
    return np.asarray(flask.organic[inv.index[target]])
