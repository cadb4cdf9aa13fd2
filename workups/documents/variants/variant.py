"""What a variant says, and the variant as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

MOST_PORTIONS = 6
SCALES = (0.1, 10.0)
MOST_SPREAD = 0.5


@dataclass(frozen=True)
class Swap:
    """One material or substance in place of another, by their keys in the tables."""

    old: str
    new: str


@dataclass(frozen=True)
class AmountSpread:
    """A reagent whose amount differs from student to student: up to ``share`` more or less."""

    substance: str
    share: float


@dataclass(frozen=True)
class Variant:
    """How an exercise is changed. ``most_portions`` bounds how often students extract.

    ``scale`` multiplies all amounts and volumes, 0.1 to 10; spreads are at most 0.5.
    """

    swaps: tuple[Swap, ...] = ()
    scale: float = 1.0
    spreads: tuple[AmountSpread, ...] = ()
    most_portions: int = MOST_PORTIONS

    def __post_init__(self) -> None:
        if not SCALES[0] <= self.scale <= SCALES[1]:
            raise ValueError(f"scale {self.scale} is not between {SCALES[0]} and {SCALES[1]}")
        if not all(0 < s.share <= MOST_SPREAD for s in self.spreads):
            raise ValueError(f"a spread lies between 0 and {MOST_SPREAD}")

    def for_everybody(self) -> Variant:
        """The same without amounts that differ from student to student."""
        return replace(self, spreads=())

    @property
    def changes_nothing(self) -> bool:
        return not self.swaps and not self.spreads and self.scale == 1.0


def variant_to_data(variant: Variant) -> dict[str, Any]:
    """A variant as a dict for the database."""
    return asdict(variant)


def variant_from_data(data: Mapping[str, Any]) -> Variant:
    """The variant that ``variant_to_data`` wrote."""
    return Variant(
        swaps=tuple(Swap(**s) for s in data["swaps"]),
        scale=data["scale"],
        spreads=tuple(AmountSpread(**s) for s in data["spreads"]),
        most_portions=data["most_portions"],
    )
