"""The model plan and its alternatives in the author form."""

import pytest
from django.urls import reverse

from workups.documents import library_text, load_exercise
from workups.documents.blank import BLANK_EXERCISE
from workups.documents.toml_text import parse
from workups.services.drafts import start_draft

pytestmark = pytest.mark.usefixtures("few_draws")
TEXT = library_text("too-much-vinegar")
HTMX = {"HX-Request": "true"}


@pytest.fixture
def draft(course, instructor):
    return start_draft(actor=instructor, course=course, document=TEXT)


@pytest.fixture
def client(sign_in, instructor):
    return sign_in(instructor)


def url_of(draft):
    return reverse("edit-route", args=[draft.public_id])


def data_of(draft):
    draft.refresh_from_db()
    return parse(draft.document)


def steps_of(draft):
    return data_of(draft)["model_plan"]["step"]


def send(client, draft, do, headers=None, route=0, **typed):
    draft.refresh_from_db()
    typed.setdefault("version", draft.version)
    address = f"{url_of(draft)}?route={route}"
    return client.post(address, {"do": do, **typed}, headers=headers)


def fields_of(client, draft, step_id):
    form = client.get(url_of(draft), {"step": step_id}).context["form"]
    values = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in values.items() if value not in (False, None)}


def test_every_step_opens_and_keeping_it_as_it_is_changes_nothing(client, draft):
    for step in steps_of(draft)[1:12:2]:
        typed = fields_of(client, draft, step["id"])
        assert send(client, draft, f"edit:{step['id']}", close="yes", **typed).status_code == 302
    draft.refresh_from_db()
    assert draft.document == TEXT


def test_a_step_is_changed_and_nothing_else_in_the_text(client, draft):
    typed = fields_of(client, draft, "extract") | {"volume_mL": "60"}
    send(client, draft, "edit:extract", **typed)
    draft.refresh_from_db()
    before, after = TEXT.split("\n"), draft.document.split("\n")
    assert [(b, a) for b, a in zip(before, after, strict=True) if b != a] == [
        ("volume_mL = 40", "volume_mL = 60")
    ]


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("volume_mL", "much", "A number is expected here"),
        ("volume_mL", "40000", "Between 0.1 and 2000"),
        ("portions", "-2", "Between 1 and 12"),
    ],
)
def test_what_is_wrong_in_a_step_is_named_and_kept(client, draft, field, typed, said):
    fields = fields_of(client, draft, "extract") | {field: typed}
    live = send(client, draft, "edit:extract", HTMX, **fields)
    assert said in live.content.decode()
    assert str(steps_of(draft)[2][field]) == typed
    page = client.get(url_of(draft), {"step": "extract"})
    assert said in page.content.decode()
    assert str(page.context["form"][field].value()) == typed
    assert "not filled in yet" in client.get(url_of(draft)).content.decode()


def test_a_flask_that_is_not_there_yet_is_named_at_the_step(client, draft):
    typed = fields_of(client, draft, "extract") | {"flask": "beaker"}
    said = "does not exist at this point"
    assert said in send(client, draft, "edit:extract", HTMX, **typed).content.decode()
    assert said in client.get(url_of(draft)).content.decode()
    assert "beaker" in client.get(url_of(draft), {"step": "extract"}).content.decode()


def test_a_material_that_a_step_uses_comes_onto_the_bench(client, draft):
    typed = fields_of(client, draft, "extract") | {"material": "toluene"}
    response = send(client, draft, "edit:extract", close="yes", **typed)
    assert "toluene" in data_of(draft)["materials"]
    assert "Toluene was put on the bench" in client.get(response.url).content.decode()
    draft.refresh_from_db()
    load_exercise(draft.document)


def test_steps_are_added_moved_duplicated_and_removed(client, draft):
    response = send(client, draft, "add:wash", after="extract")
    assert response.url.endswith("?step=wash#step-wash")
    page = client.get(response.url).content.decode()
    assert "not filled in yet" in page
    assert "Mend:" not in page
    assert [s["id"] for s in steps_of(draft)][2:4] == ["extract", "wash"]
    send(client, draft, "up:wash")
    send(client, draft, "copy:wash")
    assert [s["id"] for s in steps_of(draft)][2:5] == ["wash", "wash-2", "extract"]
    for step_id in ("wash", "wash-2"):
        send(client, draft, f"remove:{step_id}")
    assert data_of(draft) == parse(TEXT)


def test_alternatives_are_added_as_copies_and_removed(client, draft):
    response = send(client, draft, "add-route")
    assert response.url.endswith("?route=3")
    assert data_of(draft)["alternative"][2]["step"] == steps_of(draft)
    send(client, draft, "remove:extract", route=3)
    assert len(data_of(draft)["alternative"][2]["step"]) == len(steps_of(draft)) - 1
    send(client, draft, "remove-route", route=3)
    assert data_of(draft) == parse(TEXT)
    assert "no longer in the plan" in client.get(
        send(client, draft, "remove-route").url
    ).content.decode()


def test_a_double_click_adds_one_alternative_and_takes_one_away(client, draft):
    there = len(parse(TEXT)["alternative"])
    version = draft.version
    for _ in range(2):
        assert send(client, draft, "add-route", version=version).url.endswith("?route=3")
    assert len(data_of(draft)["alternative"]) == there + 1
    version = draft.version
    for _ in range(2):
        send(client, draft, "remove-route", route=2, version=version)
    assert len(data_of(draft)["alternative"]) == there


def test_a_plan_begins_with_a_first_verb(client, course, instructor):
    draft = start_draft(actor=instructor, course=course, document=BLANK_EXERCISE)
    assert "no steps yet" in client.get(url_of(draft)).content.decode()
    send(client, draft, "add:cool", HTMX)
    assert steps_of(draft) == [
        {"verb": "cool", "id": "cool", "flask": "reaction flask"}
    ]


def test_two_who_change_one_step_overwrite_nothing_unasked(client, draft):
    typed = fields_of(client, draft, "extract")
    base = draft.version
    send(client, draft, "edit:extract", **{**typed, "volume_mL": "60"})
    mine = {**typed, "volume_mL": "30", "version": base}
    for headers in (None, HTMX):
        response = send(client, draft, "edit:extract", headers, **mine)
        assert "Not saved yet" in response.content.decode()
        assert response.context["form"]["volume_mL"].value() == "30"
        assert steps_of(draft)[2]["volume_mL"] == 60
    again = {**mine, "version": response.context["version"]}
    send(client, draft, "edit:extract", **again)
    assert steps_of(draft)[2]["volume_mL"] == 30
    assert "Not saved yet" in send(client, draft, "remove:extract", version=base).content.decode()


def test_a_step_of_no_known_verb_stays_and_leads_to_the_text(client, draft):
    draft.document = TEXT.replace('verb = "cool"', 'verb = "freeze"', 1)
    draft.save()
    page = client.get(url_of(draft)).content.decode()
    assert "Step 1 cannot be shown here" in page
    send(client, draft, "remove:dilute")
    assert steps_of(draft)[0]["verb"] == "freeze"


@pytest.mark.parametrize("do", ["", "fly:extract", "edit:nobody", "remove:nobody", "add:fly"])
def test_what_cannot_be_done_changes_nothing(client, draft, do):
    assert send(client, draft, do).status_code == 302
    draft.refresh_from_db()
    assert draft.document == TEXT


def test_a_step_whose_name_cannot_be_used_gets_another_when_it_is_kept(client, draft):
    draft.document = TEXT.replace('id = "extract"', 'id = "my step \\""', 1)
    draft.save()
    typed = fields_of(client, draft, "step3")
    send(client, draft, "edit:step3", **typed)
    assert steps_of(draft)[2]["id"] == "step3"
    draft.refresh_from_db()
    load_exercise(draft.document)
