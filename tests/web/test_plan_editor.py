"""One editor of steps: whatever it does for a student's plan it does for an author's route."""

from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from workups.documents import library_exercise, library_text, plan_to_data
from workups.documents.pointers import items_at
from workups.documents.toml_text import parse
from workups.selectors.plans import current_plan
from workups.services.drafts import start_draft
from workups.services.planning import save_plan
from workups.web.authoring.form.routes import route_path

pytestmark = pytest.mark.usefixtures("few_draws")
HTMX = {"HX-Request": "true"}


@dataclass
class Kept:
    """A list of steps, where it is kept, and its page."""

    client: Client
    kept: Any
    url: str
    route: int = 0

    @property
    def steps(self):
        if self.is_draft:
            self.kept.refresh_from_db()
            return items_at(parse(self.kept.document), route_path(self.route))
        return current_plan(self.kept).data["steps"]

    @property
    def is_draft(self):
        return hasattr(self.kept, "document")

    @property
    def version(self):
        self.kept.refresh_from_db()
        return self.kept.version if self.is_draft else current_plan(self.kept).version

    @property
    def ids(self):
        return [step["id"] for step in self.steps]

    def do(self, do, headers=None, **sent):
        sent.setdefault("version", self.version)
        return self.client.post(self.url, {"do": do, **sent}, headers=headers)

    def page(self, step=""):
        joint = "&" if "?" in self.url else "?"
        return self.client.get(f"{self.url}{joint}step={step}").content.decode()


@pytest.fixture(params=["student's plan", "model plan", "alternative"])
def kept(request, course, instructor, student, sign_in):
    draft = start_draft(
        actor=instructor, course=course, document=library_text("too-much-vinegar")
    )
    route = int(request.param == "alternative")
    if request.param != "student's plan":
        url = reverse("edit-route", args=[draft.public_id])
        return Kept(sign_in(instructor), draft, f"{url}?route={route}", route)
    work = request.getfixturevalue("work")
    data = {"steps": plan_to_data(library_exercise("too-much-vinegar").model_plan)}
    save_plan(actor=student, work=work, data=data, base_version=0, change="Wrote")
    return Kept(sign_in(student), work, reverse("build-plan", args=[work.public_id]))


@pytest.fixture(params=[None, HTMX], ids=["page", "live"])
def headers(request):
    return request.param


def test_a_step_is_added_where_it_is_asked_for_and_filled_in(kept, headers):
    before = kept.ids
    answer = kept.do("add:cool", headers, after=before[1])
    new = next(i for i in kept.ids if i not in before)
    assert kept.ids == [*before[:2], new, *before[2:]]
    page = answer.content.decode() if headers else kept.page(step=new)
    assert f'id="form-{new}"' in page
    kept.do(f"edit:{new}", headers, flask="reaction flask", to_C="7", close="yes")
    assert kept.steps[2]["to_C"] == 7
    assert "7" in kept.page()


def test_steps_are_moved_by_one_and_by_many_and_not_off_the_end(kept, headers):
    first, second, third, *rest = kept.ids
    kept.do(f"down:{first}", headers)
    assert kept.ids == [second, first, third, *rest]
    kept.do(f"up:{first}", headers)
    kept.do(f"move:{first}", headers, by="2")
    assert kept.ids == [second, third, first, *rest]
    kept.do(f"move:{first}", headers, by="-50")
    assert kept.ids == [first, second, third, *rest]
    kept.do(f"up:{first}", headers)
    assert kept.ids == [first, second, third, *rest]


def test_a_step_is_duplicated_and_removed(kept, headers):
    before, old = kept.ids, kept.steps
    kept.do(f"copy:{before[0]}", headers)
    twin = kept.steps[1]
    assert {**twin, "id": before[0]} == old[0]
    kept.do(f"remove:{twin['id']}", headers)
    assert kept.steps == old


@pytest.mark.parametrize("do", ["add:label", "copy:dry"])
def test_a_double_click_adds_one_step_and_two_clicks_two(kept, do):
    before, version = len(kept.steps), kept.version
    for _ in range(2):
        assert kept.do(do, version=version).status_code == 302
    assert len(kept.steps) == before + 1
    kept.do(do)
    assert len(kept.steps) == before + 2
    assert len(set(kept.ids)) == before + 2


def test_a_double_click_moves_by_one_place_and_removes_one_step(kept):
    first, second, third, *rest = kept.ids
    version = kept.version
    for _ in range(2):
        kept.do(f"down:{first}", version=version)
    assert kept.ids == [second, first, third, *rest]
    version = kept.version
    for _ in range(2):
        kept.do(f"remove:{first}", version=version)
    assert kept.ids == [second, third, *rest]


def test_different_steps_added_from_one_page_are_both_kept(kept):
    before, version = len(kept.steps), kept.version
    for verb in ("label", "cool"):
        kept.do(f"add:{verb}", version=version)
    assert len(kept.steps) == len(set(kept.ids)) == before + 2


def test_a_change_is_undone_from_the_page(kept):
    before = kept.steps
    kept.do(f"remove:{kept.ids[0]}")
    page = kept.client.get(kept.url)
    if kept.is_draft:
        url = reverse("return-to-state", args=[kept.kept.public_id])
        back_to = page.context["undo_to"]
        sent = {"version": kept.version, "part": "plan", "to_version": back_to}
    else:
        url = reverse("restore-plan", args=[kept.kept.public_id])
        back_to = page.context["undo"].to_version
        sent = {"version": kept.version, "to_version": back_to, "undo": "on"}
    assert url in page.content.decode()
    kept.client.post(url, sent)
    assert kept.steps == before


def test_an_old_page_changes_other_steps_but_not_one_that_was_changed_since(kept, headers):
    first, second, *_ = kept.ids
    old = kept.version
    kept.do(f"copy:{first}")
    kept.do(f"remove:{second}", headers, version=old)
    assert second not in kept.ids
    kept.do(f"edit:{first}", flask="reaction flask", to_C="9")
    kept.do(f"remove:{first}", headers, version=old)
    assert first in kept.ids


def test_what_is_being_typed_is_kept_with_the_word_on_it(kept):
    first, *_ = kept.ids
    answer = kept.do(f"edit:{first}", HTMX, flask="reaction flask", to_C="warm").content.decode()
    assert "A number is expected here" in answer
    assert 'name="to_C"' not in answer
    page = kept.page(step=first)
    assert 'value="warm"' in page
    assert "A number is expected here" in page
    assert "not filled in yet" in kept.page()


def test_every_step_can_be_dragged_and_done_without_a_script(kept):
    page = kept.page()
    for step in kept.ids:
        assert f'id="step-{step}" data-move="{kept.url.removesuffix("?route=0")}"' in page
        for do in ("copy", "remove"):
            assert f'name="do" value="{do}:{step}"' in page
    assert page.count('value="up:') == page.count('value="down:') == len(kept.ids) - 1
    assert "plan.js" in page


def test_keeping_a_step_as_it_is_closes_it_and_changes_nothing(kept, headers):
    before, version = kept.steps, kept.version
    joint = "&" if "?" in kept.url else "?"
    for step in kept.ids:
        form = kept.client.get(f"{kept.url}{joint}step={step}").context["form"]
        assert form.is_valid(), step
        shown = {name: form[name].value() for name in form.fields}
        typed = {name: value for name, value in shown.items() if value not in (False, None)}
        answer = kept.do(f"edit:{step}", headers, close="yes", **typed)
        if headers:
            assert answer.context["open_id"] == ""
        else:
            assert "step=" not in answer.url
    assert (kept.steps, kept.version) == (before, version)
