"""The three documents as TOML text: exercise, plan and readings."""

from collections.abc import Mapping
from typing import Any

from workups.chemistry.plan import Plan
from workups.chemistry.readings import Readings
from workups.exercise.exercise import Exercise

from .decode import BAD, Decoder
from .encode import encode_record
from .errors import Path, shown
from .names import hint, known_names, names_for
from .plan_check import check_plan
from .toml_text import check_head, located, parse, write

HEAD = ("document", "version")


def load_exercise(text: str) -> Exercise:
    """The exercise of a TOML text; raises DocumentError with everything that is wrong."""
    return exercise_of(parse(text), text)


def exercise_of(data: dict[str, Any], text: str = "") -> Exercise:
    """The exercise of the plain data of a text, by which problems get their lines."""
    check_head(data, "exercise")
    names = known_names().with_own(
        _own_keys(data, "own_material"), _own_keys(data, "substance"))
    decoder = Decoder(names)
    exercise = decoder.record(Exercise, data, (), HEAD)
    if exercise is not BAD:
        for path, plan in _plans_of(exercise):
            _note_plan_problems(decoder, plan, exercise, path)
    return _sound(decoder, exercise, text)  # type: ignore[no-any-return]


def dump_exercise(exercise: Exercise) -> str:
    """The TOML text of an exercise; ``load_exercise`` gives back an equal one."""
    return write("exercise", encode_record(exercise))


def load_plan(text: str, exercise: Exercise | None = None) -> Plan:
    """The plan of a TOML text; raises DocumentError with everything that is wrong.

    With its exercise: own solutions are known, and a plan for another exercise is refused.
    Whether the plan makes sense there is for ``check_plan`` to say.
    """
    data = _parsed(text, "plan")
    decoder = Decoder(names_for(exercise))
    plan = decoder.record(Plan, data, (), (*HEAD, "exercise"))
    _check_exercise(decoder, data, exercise)
    return _sound(decoder, plan, text)  # type: ignore[no-any-return]


def dump_plan(plan: Plan, exercise_key: str = "") -> str:
    """The TOML text of a plan; ``load_plan`` gives back an equal one."""
    return write("plan", _for_exercise(exercise_key) | encode_record(plan))


def load_readings(text: str, exercise: Exercise | None = None) -> Readings:
    """The bench record of a TOML text; raises DocumentError with everything that is wrong.

    With its exercise: own solutions, targets and reagents are checked against it.
    """
    data = _parsed(text, "readings")
    decoder = Decoder(names_for(exercise))
    readings = decoder.record(Readings, data, (), (*HEAD, "exercise"))
    _check_exercise(decoder, data, exercise)
    if exercise is not None and readings is not BAD:
        _check_keys(decoder, "target", readings.targets,
                    [t.substance for t in exercise.setup.targets], "a target of the exercise")
        _check_keys(decoder, "reagents", readings.reagents,
                    [r.substance for r in exercise.setup.reaction.reagents],
                    "a line of the reagent table")
    return _sound(decoder, readings, text)  # type: ignore[no-any-return]


def dump_readings(readings: Readings, exercise_key: str = "") -> str:
    """The TOML text of a bench record; ``load_readings`` gives back an equal one."""
    return write("readings", _for_exercise(exercise_key) | encode_record(readings))


def _parsed(text: str, document: str) -> dict[str, Any]:
    data = parse(text)
    check_head(data, document)
    return data


def _sound(decoder: Decoder, value: Any, text: str) -> Any:
    if decoder.problems:
        raise located(decoder.found(), text)
    return value


def _for_exercise(key: str) -> dict[str, Any]:
    return {"exercise": key} if key else {}


def _own_keys(data: Mapping[str, Any], kind: str) -> list[str]:
    own = data.get(kind)
    keys = [m.get("key") for m in own if isinstance(m, dict)] if isinstance(own, list) else []
    return [k for k in keys if isinstance(k, str)]


def _plans_of(exercise: Exercise) -> list[tuple[Path, Plan]]:
    alternatives = enumerate(exercise.alternatives, 1)
    return [(("model_plan",), exercise.model_plan),
            *((("alternative", n), plan) for n, plan in alternatives)]


def _note_plan_problems(decoder: Decoder, plan: Plan, exercise: Exercise, path: Path) -> None:
    if not plan.steps:
        decoder.note((*path, "step"), "expected at least one step, found none")
    for problem in check_plan(plan, exercise):
        place = (*path, "step", plan.index(problem.step_id) + 1) if problem.step_id else path
        decoder.note((*place, problem.field) if problem.field else place, problem.message)


def _check_exercise(decoder: Decoder, data: Mapping[str, Any], exercise: Exercise | None) -> None:
    named = data.get("exercise", "")
    if not isinstance(named, str):
        decoder.expected(("exercise",), "the key of an exercise", named)
    elif exercise is not None and named and named != exercise.key:
        decoder.note(("exercise",), f'expected "{exercise.key}", found {shown(named)}')


def _check_keys(decoder: Decoder, table: str, found: Mapping[str, Any], allowed: list[str],
                what: str) -> None:
    for key in found:
        if key not in allowed:
            decoder.note((table, key), f"expected {what}, found {shown(key)}{hint(key, allowed)}")
