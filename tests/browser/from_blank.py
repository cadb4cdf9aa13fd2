"""A library exercise written anew from a blank form, key by key, and how long a person would take.

Run before a release (`bash .ci/long`). What is typed ends as the same exercise as the library's.
The time is an estimate by the keystroke-level model, not a person with a watch: keys for whoever
is no fast typist (40 words a minute), a moment to think for each field and button, a pointing for
each button, and the waiting that this run saw. Values: Card, Moran and Newell, Commun. ACM 1980,
23, 396, as tabled in many courses. Prose (background, task, cautions, reasons) is pasted.
"""

import time
from dataclasses import dataclass, replace

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, Page

from workups.chemistry.plan import FieldKind, Step
from workups.documents import library_exercise, library_text, load_exercise
from workups.documents.pointers import items_at
from workups.documents.toml_text import parse
from workups.models import ExerciseDraft
from workups.web.authoring.form.page import FieldGroup, groups_of, opened, texts_in
from workups.web.authoring.form.parts import PARTS, Part, Rows
from workups.web.authoring.form.texts import Kind

pytestmark = [pytest.mark.usefixtures("few_draws"), pytest.mark.timeout(900)]

KEY_S, POINT_S, HAND_S, THINK_S = 0.28, 1.10, 0.40, 1.35
ASKED_S = 600.0
PROSE = 80


@dataclass
class Effort:
    """What the hands and the head did, and how long the machine was waited for."""

    keys: int = 0
    fields: int = 0
    buttons: int = 0
    waited_s: float = 0.0

    @property
    def seconds(self) -> float:
        pointing = self.buttons * (POINT_S + 2 * HAND_S + KEY_S)
        thinking = (self.fields + self.buttons) * THINK_S
        return self.keys * KEY_S + pointing + thinking + self.waited_s

    def __str__(self) -> str:
        return (f"{self.fields} fields, {self.keys} keys, {self.buttons} buttons, "
                f"{self.waited_s:.0f} s waited: {self.seconds / 60:.1f} minutes")


class Author:
    """Fills in the form as a person at the keyboard would."""

    def __init__(self, page: Page) -> None:
        self.page, self.effort = page, Effort()

    def button(self, name: str) -> None:
        """Press a button of the part and wait until its answer is there."""
        self.effort.buttons += 1
        began = time.monotonic()
        with self.page.expect_response(lambda r: r.request.method == "POST"):
            self.page.locator("#part").get_by_role("button", name=name, exact=True).click()
        self.page.wait_for_load_state()
        self.effort.waited_s += time.monotonic() - began

    def skip(self) -> None:
        """One Tab past a field that stays as it is."""
        self.effort.keys += 1

    def write(self, control: Locator, text: str) -> None:
        self.effort.fields += 1
        # Longer than a line, or several: pasted. Two keys to mark what is there, one Tab to come.
        self.effort.keys += 3 + (2 if len(text) > PROSE else len(text))
        control.fill(text)
        control.press("Tab")

    def choose(self, control: Locator, value: str) -> None:
        self.effort.fields += 1
        self.effort.keys += 3
        control.select_option(value)

    def tick(self, control: Locator) -> None:
        self.effort.fields += 1
        self.effort.keys += 2
        control.focus()
        control.press("Space")


def fill_group(author: Author, group: FieldGroup, wanted: dict, here: FieldGroup, shown: dict):
    """Fill in what is shown `here` as `group` stands in the wanted exercise."""
    for asked, a in zip(group.all_fields, here.all_fields, strict=True):
        text, stands = texts_in([asked], wanted)[asked.name], texts_in([a], shown)[a.name]
        control = author.page.locator(f"[name='{a.name}']")
        if text == stands:
            author.skip()
        elif a.kind is Kind.MATERIALS:
            for key in text:
                author.tick(control.and_(author.page.locator(f"[value='{key}']")))
        elif control.evaluate("e => e.tagName") == "SELECT":
            author.choose(control, text)
        else:
            if not control.is_visible():
                author.page.locator("details", has=control).locator("summary").click()
                author.effort.buttons += 1
            author.write(control, text)


def fill_part(author: Author, part: Part, wanted: dict, draft: ExerciseDraft) -> None:
    for block in part.blocks:
        if isinstance(block, Rows):
            more = len(items_at(wanted, block.path))
            for _ in range(more - len(items_at(parse(fresh(draft)), block.path))):
                author.button(f"Add a {block.one}")
    want, shown = opened(part, wanted), opened(part, parse(fresh(draft)))
    # The settings stand in another order where the exercise has chosen some.
    there = {group.title: group for group in groups_of(part, shown)}
    for group in groups_of(part, want):
        fill_group(author, group, want, there[group.title], shown)


def fresh(draft: ExerciseDraft) -> str:
    draft.refresh_from_db()
    return draft.document


def fill_step(author: Author, step: Step) -> None:
    form = author.page.locator("#part .step--open .step__form")
    form.locator(".step__seldom").evaluate_all("folds => folds.forEach(f => { f.open = true })")
    for name, spec, value in step.fields():
        control = form.locator(f"[name='{name}']")
        if spec.kind in (FieldKind.CHOICE, FieldKind.FLASKS):
            for chosen in [value] if isinstance(value, str) else value:
                box = control.and_(author.page.locator(f"[value='{chosen}']"))
                author.skip() if not chosen or box.is_checked() else author.tick(box)
        elif spec.kind is FieldKind.FLAG:
            author.skip() if control.is_checked() == value else author.tick(control)
        else:
            write_or_choose(author, control, text_of_value(spec.kind, value))


def text_of_value(kind: FieldKind, value: object) -> str:
    return f"{value:g}" if isinstance(value, float) and kind is not FieldKind.TEXT else str(value)


def write_or_choose(author: Author, control: Locator, text: str) -> None:
    if control.input_value() == text:
        author.skip()
    elif control.evaluate("e => e.tagName") == "SELECT":
        author.choose(control, text)
    else:
        author.write(control, text)


def fill_route(author: Author, steps: tuple[Step, ...]) -> None:
    """Each verb opens its step; the one before is kept as it was filled in."""
    for number, step in enumerate(steps, start=1):
        author.button(step.title)
        author.page.locator(f"#part .steps > :nth-child({number}).step--open").wait_for()
        fill_step(author, step)
    author.button("Keep this step")
    author.page.locator("#part .step--open").wait_for(state="detached")


def verb_and_values(step: Step) -> tuple[str, list[object]]:
    return step.verb, [value for _, _, value in step.fields()]


@pytest.mark.parametrize("name", ["plain-ether", "too-much-vinegar"])
def test_written_from_blank_in_under_ten_minutes(name, new_page, course, section, instructor):
    wanted, goal = parse(library_text(name)), library_exercise(name)
    page = new_page(instructor)
    author = Author(page)
    page.goto(reverse("add-exercise", args=[course.public_id]))
    page.get_by_role("button", name="Begin with a blank form").click()
    draft = ExerciseDraft.objects.get()
    for part, after in zip(PARTS, (*PARTS[1:], None), strict=True):
        if part.slug == "plan":
            fill_route(author, goal.model_plan.steps)
            page.get_by_role("link", name=f"Go on to: {after.title}").click()
        else:
            fill_part(author, part, wanted, draft)
            author.button(f"Save and go on to: {after.title}" if after else "Save")
        if after:
            page.locator("#part-heading", has_text=after.title).wait_for()
    made = load_exercise(fresh(draft))
    assert replace(made.setup, materials=()) == replace(goal.setup, materials=())
    assert set(made.setup.materials) == set(goal.setup.materials)
    assert [verb_and_values(s) for s in made.model_plan.steps] == [
        verb_and_values(s) for s in goal.model_plan.steps
    ]
    assert (made.rubric, made.policy, made.texts) == (goal.rubric, goal.policy, goal.texts)
    print(f"\n{name}: {author.effort}")  # noqa: T201 (what this run is for)
    assert author.effort.seconds < ASKED_S
