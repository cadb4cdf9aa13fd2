"""An assessment as the JSON that the ``assess`` command prints, made for other programs.

Like ``assessment_to_data``, with three things made easier to use: amounts and compositions are
objects by substance, every step has the pH of the water layer it made, and points are summed.
"""

from __future__ import annotations

from typing import Any

from workups.grading.assessment import Assessment, StepReport

from .data import assessment_to_data


def assessment_json(assessment: Assessment) -> dict[str, Any]:
    """The assessment as a JSON-able dict; raises ValueError for a number that is not finite."""
    data = assessment_to_data(assessment)
    for target in data["expected"]:
        target["composition_g"] = dict(target["composition_g"])
    for step, report in zip(data["steps"], assessment.steps, strict=True):
        step["pH"] = water_pH(report)
        for phase in step["phases"]:
            phase["amounts_mmol"] = dict(phase["amounts_mmol"])
    data["points"], data["out_of"] = assessment.points, assessment.out_of
    return data


def water_pH(report: StepReport) -> float | None:
    """pH of the first water layer a step reports on, None where there is none."""
    return next((p.pH for p in report.phases if p.pH is not None), None)
