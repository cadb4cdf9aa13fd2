"""Plans, steps, readings and assessments as JSON-able data, for the database and the web.

What is read back here was written here: types are checked, ranges and names are not. Raises
DocumentError where the data has another shape.
"""

from typing import Any

from workups.chemistry.plan import Plan, Step
from workups.chemistry.readings import Readings
from workups.grading.assessment import Assessment, Verdict

from .decode import Decoder
from .encode import encode_record
from .errors import DocumentError, Problem, dotted


def step_to_data(step: Step) -> dict[str, Any]:
    """A step as a dict: ``verb``, ``id`` and its fields."""
    return encode_record(step, every_key=True)


def step_from_data(data: Any) -> Step:
    """The step that ``step_to_data`` wrote."""
    decoder = Decoder(trusted=True)
    step: Step = _sound(decoder, decoder.step(data, ()))
    return step


def plan_to_data(plan: Plan) -> list[dict[str, Any]]:
    """A plan as a list of step dicts."""
    return [step_to_data(step) for step in plan.steps]


def plan_from_data(data: Any) -> Plan:
    """The plan that ``plan_to_data`` wrote."""
    plan: Plan = _read(Plan, {"step": data})
    return plan


def readings_to_data(readings: Readings) -> dict[str, Any]:
    """A bench record as a dict."""
    return encode_record(readings, every_key=True)


def readings_from_data(data: Any) -> Readings:
    """The bench record that ``readings_to_data`` wrote."""
    readings: Readings = _read(Readings, data)
    return readings


def assessment_to_data(assessment: Assessment) -> dict[str, Any]:
    """An assessment as a dict with the keys of its dataclasses.

    Raises ValueError for a number that is not finite.
    """
    return encode_record(assessment, every_key=True)


def assessment_from_data(data: Any) -> Assessment:
    """The assessment that ``assessment_to_data`` wrote."""
    assessment: Assessment = _read(Assessment, data)
    return assessment


def verdict_from_data(data: Any) -> Verdict:
    """The part of an assessment that is a verdict, from the data of its fields alone."""
    verdict: Verdict = _read(Verdict, data)
    return verdict


def _read(kind: type, data: Any) -> Any:
    decoder = Decoder(trusted=True)
    return _sound(decoder, decoder.record(kind, data, ()))


def _sound(decoder: Decoder, value: Any) -> Any:
    if decoder.problems:
        raise DocumentError([Problem(dotted(path), said) for path, said in decoder.found()])
    return value
