"""All the forms of a bench record at once, for the page that a device keeps."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from workups.models import BenchRecord, Reading, ReadingKind, Work
from workups.selectors.bench import standing_readings
from workups.selectors.bench_lines import BenchLine, find_step_data, steps_as_done
from workups.selectors.plan_lines import flasks_at, produced_by
from workups.selectors.reagents import lines_of
from workups.web.bench.correction_forms import StrikeForm, correction_form
from workups.web.bench.forms import BenchForm, DryingForm, ReagentsUsedForm, VolumeForm
from workups.web.planning.builder import new_step, verb_menu
from workups.web.step_forms import FlaskLists, StepForm, TypedData


@dataclass(frozen=True)
class StepParts:
    """A step at the bench and the forms it may take."""

    line: BenchLine
    change: StepForm | None
    drying: DryingForm | None
    volume: VolumeForm | None

    @property
    def seen(self) -> UUID | None:
        return self.line.entry.client_token if self.line.entry else None


@dataclass(frozen=True)
class AddedParts:
    """One verb that a step could be added with."""

    verb: str
    title: str
    form: StepForm


@dataclass(frozen=True)
class CorrectionParts:
    reading: Reading
    form: BenchForm
    strike_form: StrikeForm

    @property
    def place(self) -> str:
        return f"correct-{self.reading.pk}"


@dataclass(frozen=True)
class OfflineForms:
    """What the page shows below the weighings."""

    steps: list[StepParts]
    added: list[AddedParts]
    reagents: ReagentsUsedForm
    corrections: list[CorrectionParts]


def offline_forms(work: Work, record: BenchRecord, lines: Sequence[BenchLine]) -> OfflineForms:
    steps = steps_as_done(record)
    readings = standing_readings(record)
    used = {r.subject for r in readings if r.kind == ReadingKind.REAGENT}
    reagents = [r for r in lines_of(work) if not r.is_product and r.key not in used]
    return OfflineForms(
        steps=[_step_parts(work, record, line, steps) for line in lines],
        added=[
            _added_parts(work, steps, verb, title)
            for group in verb_menu()
            for verb, title in group.verbs
        ],
        reagents=ReagentsUsedForm(lines=reagents, auto_id="used-%s"),
        corrections=[_correction(reading) for reading in readings],
    )


def _step_parts(
    work: Work, record: BenchRecord, line: BenchLine, steps: list[dict[str, Any]]
) -> StepParts:
    data = find_step_data(record, line.id) or {}
    skipped = line.mark == "skipped"
    recorded = [r.kind for r in line.readings]
    return StepParts(
        line=line,
        change=None if skipped else _change_form(work, data, steps),
        drying=(
            DryingForm(step_id=line.id, recorded=recorded, auto_id=f"drying-{line.id}-%s")
            if line.takes_drying and not skipped
            else None
        ),
        volume=(
            VolumeForm(
                step_id=line.id, flasks=produced_by(data), auto_id=f"volume-{line.id}-%s"
            )
            if line.takes_volumes and not skipped
            else None
        ),
    )


def _change_form(work: Work, data: dict[str, Any], steps: list[dict[str, Any]]) -> StepForm:
    return StepForm(
        TypedData(data),
        verb=data["verb"],
        step_id=data["id"],
        exercise=work.to_core(),
        flasks=_lists(flasks_at(steps, data["id"]), data["id"]),
    )


def _added_parts(
    work: Work, steps: list[dict[str, Any]], verb: str, title: str
) -> AddedParts:
    step_id = f"added-{verb}"
    form = StepForm(
        None,
        verb=verb,
        step_id=step_id,
        exercise=work.to_core(),
        flasks=_lists(flasks_at(steps, ""), step_id),
        initial=new_step(verb, step_id, {"steps": steps})["typed"],
    )
    return AddedParts(verb, title, form)


def _lists(flasks: tuple[str, ...], step_id: str) -> FlaskLists:
    return FlaskLists(flasks, f"{step_id}-flasks", f"{step_id}-flasks-or-waste")


def _correction(reading: Reading) -> CorrectionParts:
    form = correction_form(reading)
    form.auto_id = f"correct-{reading.pk}-%s"
    return CorrectionParts(reading, form, StrikeForm(auto_id=f"strike-{reading.pk}-%s"))
