"""One editor for a list of steps: a student's plan, an author's model plan and its alternatives.

A page of it has one address. ``?step=`` opens a step; what is done is posted as ``do``, a verb with
what it is about after a colon, and the ``version`` that the page was showing. An ``Editor`` says
where the list is kept, what may be done with it, and what stands beside it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django_htmx.http import HttpResponseClientRedirect

from workups.chemistry.fields import MAX_STEPS, NOTE_LENGTH
from workups.chemistry.plan import STEP_KINDS, StepGroup
from workups.documents import step_to_data
from workups.exercise.exercise import Exercise
from workups.selectors.plans import PlanLine, flasks_at, plan_lines
from workups.services import plan_edits
from workups.services.plan_edits import PlanData, PlanEdit, StepData, find_step, steps_of
from workups.web.access import CourseAccess
from workups.web.fields import VersionField
from workups.web.requests import HtmxRequest
from workups.web.step_forms import FlaskLists, StepForm, TypedData, usual

SENT_WRONG = "That could not be read. The plan is as it was; try again from this page."


@dataclass(frozen=True)
class VerbGroup:
    """A row of the menu: what the verbs have in common, and the verbs."""

    title: str
    verbs: list[tuple[str, str]]


def verb_menu() -> list[VerbGroup]:
    return [
        VerbGroup(
            group.value,
            [(verb, kind.title) for verb, kind in STEP_KINDS.items() if kind.group is group],
        )
        for group in StepGroup
    ]


def new_step(verb: str, step_id: str, data: PlanData, after: str = "") -> StepData:
    """A step just added after another, or at the end, with what most likely stands in it."""
    steps = [dict(step) for step in steps_of(data)]
    at = next((i for i, step in enumerate(steps) if step["id"] == after), len(steps))
    return {"id": step_id, "verb": verb, "typed": usual(verb, steps[: at + 1]), "is_new": True}


class VersionForm(forms.Form):
    """The version that a page was showing when it was sent."""

    version = VersionField(widget=forms.HiddenInput)


class ChangeForm(VersionForm):
    """What is asked: `by` are places to go down, up where negative."""

    do = forms.CharField(max_length=90)
    after = forms.CharField(max_length=60, required=False)
    by = forms.IntegerField(min_value=-MAX_STEPS, max_value=MAX_STEPS, required=False)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        verb, _, about = str(cleaned.get("do", "")).partition(":")
        if verb in ("up", "down"):
            verb, cleaned["by"] = "move", -1 if verb == "up" else 1
        known = about in STEP_KINDS if verb == "add" else about != ""
        if verb not in ("edit", *_EDITS) or not known or (verb == "move" and not cleaned.get("by")):
            raise forms.ValidationError("There is no such change.")
        return {**cleaned, "verb": verb, "about": about}


class NotSaved(Exception):
    """A change was not saved as it was meant; `answer` says what there is to see instead."""

    def __init__(self, answer: HttpResponse) -> None:
        super().__init__()
        self.answer = answer


class Editor:
    """A list of steps in the place where it is kept.

    `page` and `fragment` are the templates of the whole page and of what a change renews, `id` that
    element's, `level` its headings'. The templates `status` and `beside` change with every step.
    Where `says_empty` a step stays open until it is filled in, and is told which fields are empty;
    a draft may be left as it is.
    """

    page: str
    fragment: str
    status: str
    beside: Sequence[str]
    id = "plan"
    level = 2
    says_empty = True
    live_on = "change"

    def __init__(self, access: CourseAccess, exercise: Exercise) -> None:
        self.access, self.exercise = access, exercise

    @property
    def data(self) -> PlanData:
        raise NotImplementedError

    @property
    def version(self) -> int:
        raise NotImplementedError

    @property
    def address(self) -> str:
        raise NotImplementedError

    @property
    def can_change(self) -> bool:
        return not self.access.course.is_archived

    def new_id(self, verb: str, version: int) -> str:
        """The id of a step that is added on a page of this version."""
        raise NotImplementedError

    def save(self, request: HtmxRequest, edit: PlanEdit, version: int) -> None:
        """Save a change that was made looking at `version`. Raises NotSaved."""
        raise NotImplementedError

    def context(self, lines: list[PlanLine]) -> dict[str, Any]:
        """What stands beside the steps; `lines` in it take the place of those given."""
        raise NotImplementedError

    def said(self, answer: HttpResponse) -> HttpResponse:
        """The answer to a change that was saved."""
        return answer

    # ---- the same for every list ---------------------------------------------------------------

    def lines(self) -> list[PlanLine]:
        return plan_lines(dict(self.data), self.exercise)

    def line(self, step_id: str) -> PlanLine | None:
        return next((line for line in self.lines() if line.id == step_id), None)

    def title_of(self, step_id: str) -> str:
        line = self.line(step_id)
        return f"step {line.number}, {line.title}" if line else "a step"

    def address_of(self, step_id: str, what: str = "step") -> str:
        """Where a step is open; with ``what`` "at" where it is folded and one stands on it, with
        "after" where the menu stands after it."""
        return f"{self.address}{'&' if '?' in self.address else '?'}{what}={step_id}"

    def form(self, line: PlanLine, data: Any = None) -> StepForm:
        """The form of a step: as sent, else with what stands in it and what is wrong there."""
        values = line.data if line.is_complete else line.typed
        if data is None and not line.is_new:
            data = TypedData(values)
        steps = [dict(step) for step in steps_of(self.data)]
        return StepForm(
            data,
            verb=line.verb,
            step_id=line.id,
            exercise=self.exercise,
            flasks=FlaskLists(flasks_at(steps, line.id)),
            initial=values,
        )

    def say_problems(self, form: StepForm, line: PlanLine) -> None:
        """Put what the step has wrong as part of the plan beside the fields concerned.

        A step that is being filled in for the first time is not told which fields are still empty.
        """
        if not form.is_bound:
            return
        if line.is_new or not self.says_empty:
            for name, errors in list(form.errors.items()):
                if all(error.code == "required" for error in errors.as_data()):
                    del form.errors[name]
        for problem in line.problems:
            form.add_error(problem.field if problem.field in form.fields else None, problem.message)

    def all_context(
        self, open_id: str = "", form: StepForm | None = None, at_id: str = "", after_id: str = ""
    ) -> dict[str, Any]:
        """One stands where `open_id` is open, or on `at_id`, which is unfolded; or chooses what
        comes after `after_id`."""
        lines = self.lines()
        opened = next((line for line in lines if line.id == open_id), None)
        if opened is not None:
            if form is None:
                form = self.form(opened)
                form.focus_first()
            self.say_problems(form, opened)
        numbered = [
            replace(
                line,
                address=self.address_of(line.id),
                folded=self.address_of(line.id, "at"),
                adding=self.address_of(line.id, "after"),
            )
            for line in lines
        ]
        here = next((line.id for line in lines if line.id in (open_id, at_id, after_id)), "")
        return {
            "access": self.access,
            "exercise": self.exercise,
            "editor": self,
            "version": self.version,
            "open_id": opened.id if opened else "",
            "at_id": at_id,
            "menu_after": here or (lines[-1].id if lines else ""),
            "is_adding": after_id != "" and after_id == here,
            "form": form if opened else None,
            "verb_groups": verb_menu(),
            "unfinished": sum(not line.is_complete for line in lines),
            "problem_count": sum(len(line.problems) for line in lines),
            "lines": numbered,
            **self.context(numbered),
        }

    def moved(self, request: HttpRequest, url: str = "") -> HttpResponse:
        return moved(request, url or self.address)

    def refused(self, request: HttpRequest, words: str) -> NotSaved:
        messages.error(request, words)
        return NotSaved(self.moved(request))


def moved(request: HttpRequest, url: str) -> HttpResponse:
    """Look at a page anew."""
    return HttpResponseClientRedirect(url) if is_live(request) else redirect(url)


def is_live(request: HttpRequest) -> bool:
    return bool(getattr(request, "htmx", False))


def edit_steps(request: HtmxRequest, editor: Editor) -> HttpResponse:
    """The page of a list of steps, and every change of it."""
    if request.method != "POST":
        asked = request.GET
        return render_steps(
            request,
            editor,
            asked.get("step", ""),
            at_id=asked.get("at", ""),
            after_id=asked.get("after", ""),
        )
    change = ChangeForm(request.POST)
    if not change.is_valid():
        messages.error(request, SENT_WRONG)
        return editor.moved(request)
    said = change.cleaned_data
    try:
        if said["verb"] == "edit":
            return fill_in(request, editor, said["about"], said["version"])
        open_id, edit = _EDITS[said["verb"]](editor, said)
        editor.save(request, edit, said["version"])
    except plan_edits.NoSuchStep:
        messages.warning(request, "That step is no longer in the plan.")
        return editor.moved(request)
    except NotSaved as instead:
        return instead.answer
    at_id = said["about"] if said["verb"] in ("move", "copy") else ""
    return after_change(request, editor, open_id, at_id, works_on=True)


def render_steps(
    request: HtmxRequest,
    editor: Editor,
    open_id: str = "",
    form: StepForm | None = None,
    *,
    at_id: str = "",
    after_id: str = "",
    **more: Any,
) -> HttpResponse:
    context = editor.all_context(open_id, form, at_id, after_id) | more
    return render(request, editor.fragment if is_live(request) else editor.page, context)


def after_change(
    request: HtmxRequest,
    editor: Editor,
    open_id: str = "",
    at_id: str = "",
    *,
    works_on: bool = False,
) -> HttpResponse:
    """The steps after a change: the fragment, or a redirect to the place of the change. Who
    `works_on` with a step's tools keeps the tool in hand; else the step itself gets the focus."""
    if is_live(request):
        answer = render_steps(request, editor, open_id, at_id=at_id, works_on=works_on)
        return editor.said(answer)
    place = open_id or at_id
    url = editor.address_of(place, "step" if open_id else "at") if place else editor.address
    return redirect(f"{url}#step-{place}" if place else url)


def fill_in(request: HtmxRequest, editor: Editor, step_id: str, version: int) -> HttpResponse:
    """A step's form as it was sent; while somebody types in it, all but the fields is answered."""
    line = editor.line(step_id)
    if line is None:
        raise plan_edits.NoSuchStep(step_id)
    form = editor.form(line, request.POST)
    still_typing = is_live(request) and "close" not in request.POST
    too_long = form.too_long()
    for name in too_long:
        form.add_error(name, f"That is not saved: it has more than {NOTE_LENGTH} signs.")
    if too_long and not still_typing:
        return render_steps(request, editor, step_id, form)
    if not too_long:
        step = step_of(form, line, still_typing=still_typing)
        words = f"Changed step {line.number}, {line.title}"
        editor.save(request, plan_edits.put_step(step, words), version)
    if not still_typing:
        is_done = form.is_valid() or not editor.says_empty
        return after_change(request, editor, "" if is_done else step_id, step_id)
    context = editor.all_context(step_id, form)
    return editor.said(render(request, "workups/planning/_step_saved.html", context))


def step_of(form: StepForm, line: PlanLine, *, still_typing: bool) -> StepData:
    """The step as filled in, or what was typed where that is not a step yet."""
    if form.is_valid():
        return step_to_data(form.to_step())
    typed = {"id": line.id, "verb": line.verb, "typed": form.typed()}
    return {**typed, "is_new": True} if line.is_new and still_typing else typed


Edited = tuple[str, PlanEdit]  # the step to open then, and the change


def _id_for(editor: Editor, verb: str, version: int) -> str:
    """What the step would be called on the page that was sent: sent twice by a double click, it is
    one and the same. Another step that was added from there meanwhile keeps its id."""
    step_id = editor.new_id(verb, version)
    there = find_step(editor.data, step_id)
    is_another = there is not None and there["verb"] != verb
    return editor.new_id(verb, editor.version) if is_another else step_id


def _add(editor: Editor, said: Mapping[str, Any]) -> Edited:
    verb = said["about"]
    step_id = _id_for(editor, verb, said["version"])
    step = filled_in(new_step(verb, step_id, editor.data, said["after"]), editor, said)
    words = f"Added {STEP_KINDS[verb].title}"
    return step["id"], plan_edits.add_step(step, words, said["after"])


def filled_in(step: StepData, editor: Editor, said: Mapping[str, Any]) -> StepData:
    """A new step as one that is filled in, where what most likely stands in it says everything."""
    steps = [dict(before) for before in steps_of(editor.data)]
    at = next((i for i, one in enumerate(steps) if one["id"] == said["after"]), len(steps))
    form = StepForm(
        TypedData(step["typed"]),
        verb=step["verb"],
        step_id=step["id"],
        exercise=editor.exercise,
        flasks=FlaskLists(flasks_at(steps[: at + 1], "")),
    )
    return step_to_data(form.to_step()) if form.is_valid() else step


def _copy(editor: Editor, said: Mapping[str, Any]) -> Edited:
    step = find_step(editor.data, said["about"])
    if step is None:
        raise plan_edits.NoSuchStep(said["about"])
    twin = {**step, "id": _id_for(editor, step["verb"], said["version"])}
    return "", plan_edits.add_step(twin, f"Duplicated {editor.title_of(step['id'])}", step["id"])


def _remove(editor: Editor, said: Mapping[str, Any]) -> Edited:
    about = said["about"]
    return "", plan_edits.remove_step(about, f"Removed {editor.title_of(about)}")


def _move(editor: Editor, said: Mapping[str, Any]) -> Edited:
    about, by = said["about"], said["by"]
    way = "down" if by > 0 else "up"
    far = f"{way} {abs(by)} places" if abs(by) > 1 else way
    return "", plan_edits.move_step(about, by, f"Moved {editor.title_of(about)} {far}")


_EDITS: Mapping[str, Callable[[Editor, Mapping[str, Any]], Edited]] = {
    "add": _add,
    "copy": _copy,
    "remove": _remove,
    "move": _move,
}
