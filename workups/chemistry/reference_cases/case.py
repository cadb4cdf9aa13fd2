"""One comparison of a number of ours with the same number from outside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

HARVEY = "D. Harvey, Modern Analytical Chemistry, McGraw-Hill 2000"
HARVEY_MANUAL = "D. Harvey, Solutions Manual for Analytical Chemistry 2.1"
OPENSTAX = "OpenStax, Chemistry 2e, section 4.4"


@dataclass(frozen=True)
class ReferenceCase:
    """A number computed by this program and the same number from a named source.

    ``outside`` and ``tolerance`` in ``unit``; the tolerance is half a unit of the last printed
    digit unless ``note`` says why it is wider. ``ours`` computes our number when called.
    """

    subject: str
    quantity: str
    unit: str
    outside: float
    tolerance: float
    source: str
    ours: Callable[[], float]
    note: str = ""

    @property
    def name(self) -> str:
        """Subject and quantity in one line."""
        return f"{self.subject}: {self.quantity}"

    def difference(self) -> float:
        """Ours minus the outside value, in ``unit``."""
        return self.ours() - self.outside

    def agrees(self) -> bool:
        """Whether the difference is within the tolerance."""
        return abs(self.difference()) <= self.tolerance
