"""A simulated student's readings as the entries of a bench record."""

from collections.abc import Iterator
from decimal import Decimal
from uuid import NAMESPACE_URL, UUID, uuid5

from workups.chemistry.fields import within
from workups.chemistry.readings import DryingRecord, Readings, Weighing, Witness
from workups.documents import step_to_data
from workups.models import BenchRecord, Person, ReadingKind
from workups.models.bench import BECOMES
from workups.services.entries import (
    EntryOrigin,
    NewEntry,
    ReadingValues,
    Said,
    StepMark,
    record_entries,
)
from workups.words.numbers import balance_decimals

BALANCES = ("B1", "B2", "B3")


def entry_token(record: BenchRecord, what: str) -> UUID:
    """A token that is the same each time, so that writing twice stores once."""
    return uuid5(NAMESPACE_URL, f"{record.public_id}:{what}")


def write_record(
    record: BenchRecord, by: Person, readings: Readings, *, upto: int = 10_000
) -> None:
    """Write marks and readings; ``upto`` steps only for a bench that is still at work."""
    said: dict[str, list[Said]] = {
        f"step{number}": [
            StepMark(done.step.id, done.mark, step_to_data(done.step), done.after, done.remark)
        ]
        for number, done in enumerate(readings.steps[:upto])
    }
    if upto >= len(readings.steps):
        said["readings"] = list(reading_values(readings))
    entries = [
        NewEntry(EntryOrigin(by, entry_token(record, what)), words) for what, words in said.items()
    ]
    record_entries(record=record, entries=entries)


def reading_values(readings: Readings) -> Iterator[ReadingValues]:
    """Every reading of a record as the bench form would send it."""
    for substance, amount in readings.reagents.items():
        yield _number(ReadingKind.REAGENT, amount, 2, "g", subject=substance)
    for drying in readings.drying:
        yield from _drying(drying)
    for seen in readings.volumes:
        yield _number(
            ReadingKind.VOLUME, seen.volume_mL, 0, "mL", step_id=seen.step, flask=seen.flask)
    for target, record in readings.targets.items():
        for weighing in record.weighings:
            yield _weighing(target, weighing)
        for witness in record.witnesses:
            yield _witness(target, witness)


def can_be_entered(readings: Readings) -> bool:
    """Whether the bench takes every number of a record: one that is beyond all sense, as tens of
    kilograms of a flask in milligrams, is refused where it is typed."""
    return all(
        value is None or within(value, spec.low, spec.high)
        for said in reading_values(readings)
        for value, spec in zip(
            (said.value, said.value_high), BECOMES.get(said.kind, ()), strict=False))


def _exact(value: float, decimals: int) -> Decimal:
    return Decimal(f"{value:.{decimals}f}")


def _number(
    kind: ReadingKind, value: float, decimals: int, unit: str, *, subject: str = "",
    step_id: str = "", flask: str = "",
) -> ReadingValues:
    return ReadingValues(
        kind=kind, value=_exact(value, decimals), decimals=decimals, unit=unit, subject=subject,
        step_id=step_id, flask=flask,
    )


def _drying(drying: DryingRecord) -> Iterator[ReadingValues]:
    step = drying.step
    if drying.agent_mass_g is not None:
        yield _number(ReadingKind.AGENT_MASS, drying.agent_mass_g, 2, "g", step_id=step)
    if drying.portions is not None:
        yield _number(ReadingKind.AGENT_PORTIONS, drying.portions, 0, "", step_id=step)
    if drying.agent_look:
        yield ReadingValues(ReadingKind.AGENT_LOOK, step_id=step, text=drying.agent_look)
    if drying.liquid_look:
        yield ReadingValues(ReadingKind.LIQUID_LOOK, step_id=step, text=drying.liquid_look)
    if drying.minutes is not None:
        yield _number(ReadingKind.DRYING_TIME, drying.minutes, 0, "min", step_id=step)


def _weighing(target: str, weighing: Weighing) -> ReadingValues:
    decimals = balance_decimals(weighing.readability_g)
    shown = max(decimals, len(f"{weighing.mass_g:.6f}".rstrip("0").split(".")[1]))
    return ReadingValues(
        ReadingKind(weighing.kind),
        subject=target,
        value=_exact(weighing.mass_g, shown),
        decimals=shown,
        unit="g",
        flask_number=weighing.flask_number,
        balance=weighing.balance or BALANCES[0],
        readability=Decimal(f"{weighing.readability_g:.{decimals}f}"),
        on_pan=list(weighing.on_pan),
    )


def _witness(target: str, witness: Witness) -> ReadingValues:
    low = None if witness.low_C is None else _exact(witness.low_C, 0)
    high = None if witness.high_C is None else _exact(witness.high_C, 0)
    return ReadingValues(
        ReadingKind.WITNESS,
        subject=target,
        text=witness.text,
        witness_kind=witness.kind,
        agrees=witness.agrees,
        value=low,
        value_high=high,
        unit="°C" if low is not None else "",
    )
