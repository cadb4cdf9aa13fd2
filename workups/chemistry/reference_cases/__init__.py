"""Numbers of ours beside numbers from outside: textbook examples, measurements, other solvers.

Both the tests and the command ``check_values`` read these.
"""

from __future__ import annotations

from . import carbonate, extraction, heat, solids, water, yields
from .case import ReferenceCase

__all__ = ["ReferenceCase", "reference_cases"]


def reference_cases() -> tuple[ReferenceCase, ...]:
    """All comparisons, by subject."""
    return (*extraction.CASES, *carbonate.CASES, *water.CASES, *solids.CASES,
            *heat.CASES, *yields.CASES)
