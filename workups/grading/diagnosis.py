"""Ranked explanations of a mass (see the hypotheses in ``hypotheses``)."""

from __future__ import annotations

from workups.chemistry.readings import Readings
from workups.chemistry.run import Run

from .assessment import Hypothesis
from .case import Case


def diagnose(done: Case, model: Run, readings: Readings) -> tuple[Hypothesis, ...]:
    """Most likely explanations of the readings, ranked."""
    return ()
