"""Where a separation put a target: shares and concentrations of the two layers."""

from __future__ import annotations

from dataclasses import dataclass

from workups.chemistry.plan import WASTE, Parting
from workups.chemistry.state import State

from ..case import Case


@dataclass(frozen=True)
class Parted:
    """Share (0..1, of what there was at the start) of a target that went with the kept and with
    the other layer, and the volumes of both [mL]; nominal values."""

    kept: float
    other: float
    kept_mL: float
    other_mL: float

    @property
    def mostly_put_aside(self) -> bool:
        """The layer put aside holds most of the target, and more per mL than the kept one: not
        a matter of too few portions, but of the wrong layer."""
        if self.other <= self.kept:
            return False
        kept_per_mL = self.kept / self.kept_mL if self.kept_mL > 0 else 0.0
        other_per_mL = self.other / self.other_mL if self.other_mL > 0 else 0.0
        return other_per_mL > kept_per_mL


def _volume_mL(case: Case, state: State, name: str) -> float:
    inv = case.inventory
    if name == WASTE:
        return float(sum(inv.volume_mL(w)[0] for w in state.waste.values()))
    flask = state.flasks.get(name)
    return float(inv.volume_mL(flask.liquid())[0]) if flask is not None else 0.0


def parted(case: Case, index: int, step: Parting, target: str) -> Parted:
    """What a separation did with a target, by comparing the bench before and after."""
    before, after = case.before(index), case.after(index)
    total = max(case.available(target), 1e-12)

    def gained(name: str) -> tuple[float, float]:
        fresh = name == step.flask
        amount = case.amount_in(after, name, target) - (
            0.0 if fresh else case.amount_in(before, name, target))
        volume = _volume_mL(case, after, name) - (
            0.0 if fresh else _volume_mL(case, before, name))
        return amount / total, volume

    kept, kept_mL = gained(step.keep_in)
    other, other_mL = gained(step.other_in)
    return Parted(kept, other, kept_mL, other_mL)
