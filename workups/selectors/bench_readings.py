"""A bench record as the grading module's `Readings`."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from workups.chemistry.plan import Plan, Step
from workups.chemistry.readings import (
    DoneStep,
    DryingRecord,
    Readings,
    SamplePart,
    SeenVolume,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.documents import step_from_data
from workups.models import WEIGHING_KINDS, BenchRecord, BenchStep, Reading, ReadingKind
from workups.selectors.bench import standing_readings, step_entries, weighing_of

_DRYING_KINDS = frozenset(
    {
        ReadingKind.AGENT_MASS,
        ReadingKind.AGENT_PORTIONS,
        ReadingKind.AGENT_LOOK,
        ReadingKind.LIQUID_LOOK,
        ReadingKind.DRYING_TIME,
    }
)


def readings_to_core(
    record: BenchRecord, targets: Iterable[str], explanation: str = ""
) -> Readings:
    """What holds in the record. `targets` are the exercise's target substances."""
    readings = standing_readings(record)
    return Readings(
        steps=done_steps(record.plan_revision.to_core(), step_entries(record)),
        reagents={
            r.subject: float(r.value)
            for r in readings
            if r.kind == ReadingKind.REAGENT and r.value is not None
        },
        targets={
            target: TargetReadings(
                weighings=tuple(
                    _weighing(r, record)
                    for r in readings
                    if r.kind in WEIGHING_KINDS and r.subject == target
                ),
                witnesses=tuple(
                    Witness(
                        kind=r.witness_kind,
                        text=r.text,
                        low_C=None if r.value is None else float(r.value),
                        high_C=None if r.value_high is None else float(r.value_high),
                        agrees=r.agrees,
                    )
                    for r in readings
                    if r.kind == ReadingKind.WITNESS and r.subject == target
                ),
                explanation=explanation,
                parts=tuple(
                    part_of(r)
                    for r in readings
                    if r.kind == ReadingKind.PART and r.subject == target
                ),
            )
            for target in targets
        },
        drying=_drying(readings),
        volumes=_volumes(readings),
    )


def done_steps(plan: Plan, entries: Mapping[str, BenchStep]) -> tuple[DoneStep, ...]:
    """The plan as it was worked down, added steps where they were added.

    A step that nothing was said about counts as done as planned; with no entry at all, nothing
    is known and the result is empty.
    """
    if not entries:
        return ()
    done = list(_added_after("", entries))
    for step in plan.steps:
        done.append(_done(step, entries.get(step.id)))
        done.extend(_added_after(step.id, entries))
    return tuple(done)


def _done(planned: Step, entry: BenchStep | None) -> DoneStep:
    if entry is None:
        return DoneStep(step=planned, mark="done")
    return DoneStep(
        step=step_from_data(entry.data), mark=entry.mark, after=entry.after, remark=entry.remark
    )


def _added_after(step_id: str, entries: Mapping[str, BenchStep]) -> Iterable[DoneStep]:
    for entry in entries.values():
        if entry.mark == "added" and entry.after == step_id:
            yield DoneStep(step_from_data(entry.data), "added", step_id, entry.remark)
            yield from _added_after(entry.step_id, entries)


def _volumes(readings: Iterable[Reading]) -> tuple[SeenVolume, ...]:
    """The newest of each flask at each step."""
    seen = {
        (r.step_id, r.flask): SeenVolume(r.step_id, r.flask, float(r.value))
        for r in readings
        if r.kind == ReadingKind.VOLUME and r.value is not None
    }
    return tuple(seen.values())


def _weighing(reading: Reading, record: BenchRecord) -> Weighing:
    minute = (reading.made_at - record.started_at).total_seconds() / 60
    return replace(weighing_of(reading), minute=max(0.0, round(minute, 1)))


def part_of(reading: Reading) -> SamplePart:
    if reading.value is None or reading.value_high is None or reading.readability is None:
        raise ValueError(f"part {reading.pk} has no two masses or no readability")
    return SamplePart(
        use=reading.flask,
        empty_g=float(reading.value),
        full_g=float(reading.value_high),
        readability_g=float(reading.readability),
        text=reading.text,
    )


def _drying(readings: Iterable[Reading]) -> tuple[DryingRecord, ...]:
    by_step: dict[str, dict[str, Reading]] = {}
    for reading in readings:
        if reading.kind in _DRYING_KINDS:
            by_step.setdefault(reading.step_id, {})[reading.kind] = reading
    return tuple(_drying_record(step, found) for step, found in by_step.items())


def _drying_record(step_id: str, found: Mapping[str, Reading]) -> DryingRecord:
    def number(kind: ReadingKind) -> float | None:
        value = found[kind].value if kind in found else None
        return None if value is None else float(value)

    def word(kind: ReadingKind) -> str:
        return found[kind].text if kind in found else ""

    portions = number(ReadingKind.AGENT_PORTIONS)
    return DryingRecord(
        step=step_id,
        agent_mass_g=number(ReadingKind.AGENT_MASS),
        portions=None if portions is None else int(portions),
        agent_look=word(ReadingKind.AGENT_LOOK),
        liquid_look=word(ReadingKind.LIQUID_LOOK),
        minutes=number(ReadingKind.DRYING_TIME),
    )
