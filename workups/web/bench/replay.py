"""One entry that waited on a device, read by the same forms as at the bench."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms
from django.http import Http404, QueryDict

from workups.chemistry.plan import STEP_KINDS
from workups.documents import step_to_data
from workups.models import BenchRecord, BenchStep, Person, Reading, Work
from workups.selectors.bench import step_entries
from workups.selectors.bench_lines import find_step_data, steps_as_done
from workups.selectors.plan_lines import flasks_at, produced_by
from workups.selectors.reagents import lines_of
from workups.services import replay as services
from workups.services.bench import EntryOrigin, ReadingValues, StepMark
from workups.services.plan_edits import new_step_id
from workups.web.bench.correction_forms import StrikeForm, correction_form
from workups.web.bench.forms import (
    BenchForm,
    DryingForm,
    MarkStepForm,
    PartForm,
    ReagentsUsedForm,
    VolumeForm,
    WeighingForm,
    WitnessForm,
)
from workups.web.bench.step_data import known_step, planned_data, steps_until
from workups.web.step_forms import FlaskLists, StepForm

Saved = Sequence[BenchStep | Reading]


class CannotBeRead(Exception):
    """The entry does not say what its form asks for; `problems` are sentences."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("; ".join(problems))
        self.problems = problems


class TokensField(forms.Field):
    """Tokens with blanks between them."""

    def to_python(self, value: Any) -> frozenset[UUID]:
        try:
            return frozenset(UUID(token) for token in str(value or "").split())
        except ValueError as error:
            raise forms.ValidationError("These are no tokens.") from error


class ReplayForm(forms.Form):
    """What a queue says about an entry, beside the fields of the entry's own form."""

    prefix = "queue"

    entry = forms.CharField(max_length=20)
    about = forms.CharField(max_length=60, required=False)
    after = forms.CharField(max_length=60, required=False)
    seen = TokensField(required=False)

    def clean_entry(self) -> str:
        entry = str(self.cleaned_data["entry"])
        if entry not in KINDS_OF_ENTRY:
            raise forms.ValidationError("There is no such kind of entry.")
        return entry


@dataclass(frozen=True)
class Waiting:
    """An entry as it was sent. `about` is a step, a verb or a reading, as its kind has it."""

    person: Person
    work: Work
    record: BenchRecord
    data: QueryDict
    about: str
    after: str
    seen: frozenset[UUID]

    def origin(self, form: BenchForm, button: str = "") -> EntryOrigin:
        return form.origin(self.person, button)

    @property
    def targets(self) -> set[str]:
        return {target.substance for target in self.work.to_core().setup.targets}


def replay(waiting: Waiting, entry: str) -> Saved:
    """Record it; raises CannotBeRead, ChangedMeanwhile or RecordIsLocked."""
    return KINDS_OF_ENTRY[entry](waiting)


def require_valid(*checked: forms.Form) -> None:
    problems = [
        f"{form.fields[name].label or name}: {message}" if name in form.fields else str(message)
        for form in checked
        for name, messages in form.errors.items()
        for message in messages
    ]
    if problems:
        raise CannotBeRead(problems)


def step_data_or_404(waiting: Waiting) -> dict[str, Any]:
    data = find_step_data(waiting.record, waiting.about)
    if data is None:
        raise Http404
    return data


def replay_mark(waiting: Waiting) -> Saved:
    form = MarkStepForm(waiting.data)
    require_valid(form)
    mark = form.cleaned_data["mark"]
    record, origin, seen = waiting.record, waiting.origin(form, mark), waiting.seen
    if mark == "open":
        taken = services.replay_step_withdrawal(
            record=record, origin=origin, step_id=waiting.about, seen=seen
        )
        return [taken] if taken else []
    step = next((s for s in planned_data(record) if s["id"] == waiting.about), None)
    if step is None:
        raise Http404
    said = StepMark(waiting.about, mark, step, remark=form.cleaned_data["remark"])
    return [services.replay_step(record=record, origin=origin, mark=said, seen=seen)]


def replay_change(waiting: Waiting) -> Saved:
    data = step_data_or_404(waiting)
    before = step_entries(waiting.record).get(waiting.about)
    added = before is not None and before.mark == "added"
    steps = steps_as_done(waiting.record)
    form = step_form(waiting, data["verb"], waiting.about, flasks_at(steps, waiting.about))
    said = StepMark(
        waiting.about,
        "added" if added else "changed",
        step_to_data(form.to_step()),
        after=before.after if before and added else "",
    )
    return [record_step(waiting, said)]


def replay_added(waiting: Waiting) -> Saved:
    """A step added: one that came before keeps the name it was given then."""
    if waiting.about not in STEP_KINDS:
        raise Http404
    token = valid_token(waiting)
    sent = BenchStep.objects.filter(client_token=token.cleaned_data["client_token"]).first()
    step_id = sent.step_id if sent else new_step_id({"steps": planned_data(waiting.record)})
    steps = steps_as_done(waiting.record)
    after = known_step(waiting.record, steps, waiting.after)
    flasks = flasks_at(steps_until(steps, after), "")
    form = step_form(waiting, waiting.about, step_id, flasks)
    return [
        record_step(waiting, StepMark(step_id, "added", step_to_data(form.to_step()), after=after))
    ]


def step_form(
    waiting: Waiting, verb: str, step_id: str, flasks: tuple[str, ...]
) -> StepForm:
    form = StepForm(
        waiting.data,
        verb=verb,
        step_id=step_id,
        exercise=waiting.work.to_core(),
        flasks=FlaskLists(flasks),
    )
    require_valid(form)
    return form


def valid_token(waiting: Waiting) -> BenchForm:
    form = BenchForm(waiting.data)
    require_valid(form)
    return form


def record_step(waiting: Waiting, said: StepMark) -> BenchStep:
    return services.replay_step(
        record=waiting.record,
        origin=waiting.origin(valid_token(waiting)),
        mark=said,
        seen=waiting.seen,
    )


def record_readings(
    waiting: Waiting, form: BenchForm, entries: Callable[[], Sequence[ReadingValues]]
) -> Saved:
    require_valid(form)
    return services.replay_readings(
        record=waiting.record,
        origin=waiting.origin(form),
        entries=entries(),
        seen=waiting.seen,
    )


def replay_weighing(waiting: Waiting) -> Saved:
    glassware = waiting.work.to_core().setup.glassware
    form = WeighingForm(waiting.data, readability_g=glassware.balance_readability_g)
    require_target(waiting)
    return record_readings(waiting, form, lambda: [form.values()])


def replay_part(waiting: Waiting) -> Saved:
    glassware = waiting.work.to_core().setup.glassware
    form = PartForm(waiting.data, readability_g=glassware.balance_readability_g)
    require_target(waiting)
    return record_readings(waiting, form, lambda: [form.values()])


def replay_witness(waiting: Waiting) -> Saved:
    form = WitnessForm(waiting.data)
    require_target(waiting)
    return record_readings(waiting, form, lambda: [form.values()])


def require_target(waiting: Waiting) -> None:
    if waiting.data.get("target", "") not in waiting.targets:
        raise Http404


def replay_drying(waiting: Waiting) -> Saved:
    if step_data_or_404(waiting)["verb"] != "dry":
        raise Http404
    form = DryingForm(waiting.data, step_id=waiting.about)
    return record_readings(waiting, form, form.entries)


def replay_volume(waiting: Waiting) -> Saved:
    flasks = produced_by(step_data_or_404(waiting))
    form = VolumeForm(waiting.data, step_id=waiting.about, flasks=flasks)
    return record_readings(waiting, form, lambda: [form.values()])


def replay_reagents(waiting: Waiting) -> Saved:
    lines = [line for line in lines_of(waiting.work) if not line.is_product]
    form = ReagentsUsedForm(waiting.data, lines=lines)
    return record_readings(waiting, form, form.entries)


def replay_correction(waiting: Waiting) -> Saved:
    return correct(waiting, correction_form(reading_or_404(waiting), waiting.data))


def replay_strike(waiting: Waiting) -> Saved:
    return correct(waiting, StrikeForm(waiting.data))


def correct(waiting: Waiting, form: Any) -> Saved:
    require_valid(form)
    corrected = services.replay_correction(
        reading=reading_or_404(waiting),
        origin=waiting.origin(form),
        values=None if isinstance(form, StrikeForm) else form.values(),
        reason=form.cleaned_data["reason"],
        seen=waiting.seen,
    )
    return [corrected]


def reading_or_404(waiting: Waiting) -> Reading:
    if not waiting.about.isdecimal():
        raise Http404
    reading = Reading.objects.filter(pk=int(waiting.about), record=waiting.record).first()
    if reading is None:
        raise Http404
    return reading


KINDS_OF_ENTRY: Mapping[str, Callable[[Waiting], Saved]] = {
    "mark": replay_mark,
    "change": replay_change,
    "add": replay_added,
    "weighing": replay_weighing,
    "part": replay_part,
    "witness": replay_witness,
    "drying": replay_drying,
    "volume": replay_volume,
    "reagents": replay_reagents,
    "correct": replay_correction,
    "strike": replay_strike,
}
