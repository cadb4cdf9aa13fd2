"""Entries that say how a step went: done, skipped, changed, added, open again."""

from typing import Any

from django import forms
from django.forms import BoundField
from django.http import Http404

from workups.chemistry.plan import STEP_KINDS
from workups.chemistry.readings import MARKS
from workups.documents import step_to_data
from workups.models import BenchStep, Reading
from workups.selectors.plans import flasks_at
from workups.services.entries import NewEntry, Said, StepMark, StepTakenBack
from workups.services.plan_edits import new_step_id
from workups.web.bench.entry import BenchForm, EntryForm, Of
from workups.web.bench.record import Bench
from workups.web.fields import length_in
from workups.web.plan_editor import new_step
from workups.web.step_forms import FlaskLists, StepForm


def remark_field() -> forms.CharField:
    longest = length_in(BenchStep, "remark")
    return forms.CharField(max_length=longest, required=False, widget=forms.HiddenInput)


class OfStep(EntryForm):
    """How a step went. The newest word on a step holds."""

    of = Of.STEP

    def require_place(self) -> None:
        self.bench.step_or_404(self.about)

    def standing(self) -> list[BenchStep | Reading]:
        entry = self.bench.entries.get(self.about)
        return [entry] if entry else []

    @property
    def slot(self) -> str:
        return f"step {self.about}"

    def name(self) -> str:
        return STEP_KINDS[self.bench.step_or_404(self.about)["verb"]].title


class MarkForm(OfStep):
    """One tap: done as planned, skipped, or open again."""

    entry = "mark"

    mark = forms.ChoiceField(choices=[(m, m) for m in MARKS if m in ("done", "skipped")] + [
        ("open", "open again")
    ])
    remark = remark_field()

    def said(self) -> list[Said]:
        cleaned = self.cleaned_data
        if cleaned["mark"] == "open":
            return [StepTakenBack(self.about)]
        planned = self.bench.known[self.about]
        return [StepMark(self.about, cleaned["mark"], planned, remark=cleaned["remark"])]

    def new_entry(self) -> NewEntry:
        return NewEntry(self.origin(self.cleaned_data["mark"]), self.said())


class ChangeForm(StepForm, OfStep):
    """What was really done at a step where that is not what was planned."""

    entry = "change"
    summary = "What was really done"
    button = "Record what was done"

    remark = remark_field()

    def __init__(self, data: Any = None, *, bench: Bench, about: str, **kwargs: Any) -> None:
        stands = bench.step_or_404(about)
        kwargs.pop("initial", None)
        lists = f"{about}-flasks"
        super().__init__(
            data,
            verb=stands["verb"],
            step_id=about,
            exercise=bench.exercise,
            flasks=FlaskLists(flasks_at(bench.done, about), lists, f"{lists}-or-waste"),
            initial=stands,
            bench=bench,
            about=about,
            **kwargs,
        )

    @property
    def heading(self) -> str:
        return f"What was really done: {super().name()}"

    def name(self) -> str:
        return f"{super().name()}, changed"

    def said(self) -> list[Said]:
        before = self.bench.entries.get(self.about)
        added = before if before and before.mark == "added" else None
        return [
            StepMark(
                self.about,
                "added" if added else "changed",
                step_to_data(self.to_step()),
                after=added.after if added else "",
                remark=self.cleaned_data["remark"],
            )
        ]


class AddForm(StepForm, OfStep):
    """A step that was not planned. `about` is its verb."""

    entry = "add"
    button = "Record what was done"
    stands_beside = True

    def __init__(self, data: Any = None, *, bench: Bench, about: str, **kwargs: Any) -> None:
        if about not in STEP_KINDS:
            raise Http404
        places = {"": "the very beginning"} | {
            step["id"]: f"{n}. {STEP_KINDS[step['verb']].title}"
            for n, step in enumerate(bench.done, 1)
        }
        said = kwargs.pop("initial", None) or {}
        asked = said if data is None else data
        after = asked.get("after")
        self.goes_after = str(after) if after in places else bench.last_done
        before = bench.until(self.goes_after)
        step_id = self._step_id(data, bench)
        lists = f"added-{about}-flasks"
        super().__init__(
            data,
            verb=about,
            step_id=step_id,
            exercise=bench.exercise,
            flasks=FlaskLists(flasks_at(before, ""), lists, f"{lists}-or-waste"),
            initial={
                **new_step(about, step_id, {"steps": before})["typed"],
                "after": self.goes_after,
            },
            bench=bench,
            about=about,
            auto_id=f"added-{about}-%s",
        )
        self.fields["after"] = forms.CharField(
            label="After",
            max_length=length_in(BenchStep, "after"),
            required=False,
            widget=forms.Select(choices=list(places.items())),
        )

    @staticmethod
    def _step_id(data: Any, bench: Bench) -> str:
        """A step that came before keeps the name it was given then."""
        token = BenchForm(data)
        if token.is_valid():
            said = BenchStep.objects.filter(client_token=token.cleaned_data["client_token"])
            if sent := said.first():
                return sent.step_id
        return new_step_id({"steps": list(bench.known.values())})

    def require_place(self) -> None:
        """The verb is known already."""

    def standing(self) -> list[BenchStep | Reading]:
        return []

    @property
    def slot(self) -> str:
        return ""

    @property
    def anchor(self) -> str:
        return "add"

    @property
    def returns_to(self) -> str:
        return f"step-{self.step_id}"

    @property
    def rows(self) -> list[list[BoundField]]:
        return [[self["after"]], *super().rows]

    @property
    def title(self) -> str:
        """What kind of step it is; a template would call the kind itself."""
        return self.kind.title

    @property
    def heading(self) -> str:
        return f"Added at the bench: {self.title}"

    def name(self) -> str:
        return f"Added: {self.kind.title}"

    def said(self) -> list[Said]:
        done = step_to_data(self.to_step())
        return [StepMark(self.step_id, "added", done, after=self.goes_after)]
