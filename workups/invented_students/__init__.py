"""Simulated students: whole bench records, with one slip or none, for demos and calibration.

The diagnosis does not use anything in here; both stand on the simulation and on the list of slips,
so these students err as the diagnosis expects. ``Habits`` make slips larger, smaller, more or less
frequent than that.
"""

from .habits import AS_EXPECTED, Habits
from .mistakes import planning_mistakes
from .student import SimulatedStudent, applicable_slips, simulate_student

__all__ = [
    "AS_EXPECTED",
    "Habits",
    "SimulatedStudent",
    "applicable_slips",
    "planning_mistakes",
    "simulate_student",
]
