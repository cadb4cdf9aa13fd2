"""All the forms of a bench record at once, for the page that a device keeps."""

from collections.abc import Sequence
from dataclasses import dataclass

from workups.selectors.bench_lines import BenchLine
from workups.web.bench.entries import CORRECT, entry_form, kinds_at, kinds_of
from workups.web.bench.entry import EntryForm, Of
from workups.web.bench.record import Bench
from workups.web.bench.step_kinds import AddForm, ChangeForm
from workups.web.plan_editor import verb_menu


@dataclass(frozen=True)
class OfflineForms:
    """What the page shows: forms of each step, of steps added, of the record, of each reading."""

    steps: list[tuple[BenchLine, list[EntryForm]]]
    added: list[EntryForm]
    record: list[EntryForm]
    corrections: list[tuple[EntryForm, EntryForm]]


def offline_forms(bench: Bench, lines: Sequence[BenchLine]) -> OfflineForms:
    return OfflineForms(
        steps=[(line, _step_forms(bench, line)) for line in lines],
        added=[
            entry_form(bench, AddForm.entry, verb)
            for group in verb_menu()
            for verb, _ in group.verbs
        ],
        record=[kind(bench=bench).missing() for kind in kinds_of(Of.RECORD)],
        corrections=[
            (entry_form(bench, CORRECT, str(old.pk)), entry_form(bench, "strike", str(old.pk)))
            for old in bench.readings
        ],
    )


def _step_forms(bench: Bench, line: BenchLine) -> list[EntryForm]:
    if line.mark == "skipped":
        return []
    kinds: list[type[EntryForm]] = [ChangeForm, *kinds_at(line.step)]
    forms = [kind(bench=bench, about=line.id).missing() for kind in kinds]
    return [form for form in forms if form.visible_fields()]
