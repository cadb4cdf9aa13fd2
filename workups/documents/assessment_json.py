"""An assessment as the JSON that the ``assess`` command prints, made for other programs.

Like ``assessment_to_data``, with two things made easier to use: amounts and compositions are
objects by substance, and points are summed.
"""

from typing import Any

from workups.grading.assessment import Assessment

from .data import assessment_to_data


def assessment_json(assessment: Assessment) -> dict[str, Any]:
    """The assessment as a JSON-able dict; raises ValueError for a number that is not finite."""
    data = assessment_to_data(assessment)
    for target in data["expected"]:
        target["composition_g"] = dict(target["composition_g"])
    for step in data["steps"]:
        for phase in step["phases"]:
            phase["amounts_mmol"] = dict(phase["amounts_mmol"])
    data["points"], data["out_of"] = assessment.points, assessment.out_of
    return data
