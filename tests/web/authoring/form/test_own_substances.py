"""A substance outside the tables: typed, taken over, completed, simulated, published."""

import pytest
from django.urls import reverse

from tests.chemistry.own_substances import FILE
from tests.sheets.pdf_text import pages_of
from tests.web.authoring.form.test_parts import data_of, send, url_of
from tests.web.authoring.test_publish import POLICY, dates
from workups.documents import load_exercise, plan_to_data
from workups.documents.problems import exercise_problems
from workups.models import Work
from workups.services.drafts import start_draft
from workups.services.planning import save_plan

pytestmark = pytest.mark.usefixtures("few_draws")
KEY = "4_fluorobenzoic_acid"
OWN = FILE.read_text(encoding="utf-8")
HEAD, REST = OWN[: OWN.index("[[substance]]")], OWN[OWN.index("[reaction]") :]
FIELD = "reaction-reagent-1-substance"


@pytest.fixture
def draft(course, instructor):
    """The exercise before anybody named its acid."""
    document = HEAD + REST.replace(KEY, "acid to be named", 1)
    return start_draft(actor=instructor, course=course, document=document)


def use(client, draft, typed="456-22-4", headers=None):
    return send(client, draft, "reaction", headers, **{FIELD: typed, "do": f"use:{FIELD}"})


def test_what_a_library_knows_is_used_with_one_button(sign_in, instructor, draft):
    client = sign_in(instructor)
    send(client, draft, "reaction", **{FIELD: "456-22-4"})
    page = client.get(url_of(draft, "reaction")).content.decode()
    assert "Use it in this exercise" in page
    assert "a measured pKa in place of 4.0 ± 0.5" in page
    assert use(client, draft).url.endswith(f"#f-{FIELD}")
    data = data_of(draft)
    assert data["reaction"]["reagent"][0]["substance"] == KEY
    own = data["substance"][0]
    assert (own["key"], own["cas"]) == (KEY, "456-22-4")
    assert all(value["source"] and value["grade"] for value in own["values"].values())
    page = client.get(url_of(draft, "reaction")).content.decode()
    assert "Brought along by this exercise" in page
    assert "Use it in this exercise" not in page


def test_its_pKa_is_asked_for_and_undo_takes_it_away(sign_in, instructor, draft):
    client = sign_in(instructor)
    use(client, draft)
    assert data_of(draft)["substance"][0]["values"]["pKa1"]["note"].startswith("estimate by class")
    page = client.get(url_of(draft, "substances")).content.decode()
    assert "Still to say: a measured pKa in place of 4.0 ± 0.5" in page
    assert "<svg" in page
    fields = {"value": "4.14", "uncertainty": "0.03", "source": "a handbook", "grade": "B",
              "note": ""}
    send(client, draft, "substances",
         **{f"substance-1-values-pKa1-{name}": typed for name, typed in fields.items()})
    assert data_of(draft)["substance"][0]["values"]["pKa1"] == {
        "value": 4.14, "unit": "1", "uncertainty": 0.03, "source": "a handbook", "grade": "B"}
    assert exercise_problems(draft.__class__.objects.get().document) == ()
    draft.refresh_from_db()
    client.post(reverse("return-to-state", args=[draft.public_id]),
                {"version": draft.version, "to_version": 1, "part": "reaction"})
    assert "substance" not in data_of(draft)


def test_it_is_called_by_its_name_everywhere_in_the_form(sign_in, instructor, draft):
    client = sign_in(instructor)
    use(client, draft)
    send(client, draft, "targets", **{"target-1-substance": "4-Fluorobenzoic acid"})
    assert data_of(draft)["target"][0]["substance"] == KEY
    page = client.get(url_of(draft, "reaction"))
    assert page.context["form"][FIELD].value().casefold() == "4-fluorobenzoic acid"


def test_the_cursor_stays_in_the_field_and_the_panel_says_what_is_lacking(
    sign_in, instructor, draft
):
    client = sign_in(instructor)
    fragment = use(client, draft, headers={"HX-Request": "true"}).content.decode()
    field = next(part for part in fragment.split("<input") if f'name="{FIELD}"' in part)
    assert "autofocus" in field.partition(">")[0]
    send(client, draft, "substances", **{f"substance-1-values-pKa1-{name}": "" for name in (
        "value", "uncertainty", "source", "grade", "note")})
    panel = client.get(reverse("check-draft", args=[draft.public_id])).content.decode()
    assert "until what is listed below is filled in" in panel


def test_what_nobody_knows_is_not_used(sign_in, instructor, draft):
    use(sign_in(instructor), draft, "no such thing")
    assert "substance" not in data_of(draft)


def test_a_whole_exercise_is_simulated_and_shown(sign_in, instructor, course):
    draft = start_draft(actor=instructor, course=course, document=OWN)
    client = sign_in(instructor)
    panel = client.get(reverse("check-draft", args=[draft.public_id])).content.decode()
    assert "4-fluorobenzoic acid" in panel.casefold()
    for name in ("preview-draft", "show-draft-method"):
        page = client.get(reverse(name, args=[draft.public_id]))
        assert page.status_code == 200
        assert "4-fluorobenzoic acid" in page.content.decode().casefold(), name
    assert load_exercise(draft.document).setup.own_substances


def test_it_is_published_planned_with_and_printed(
    sign_in, instructor, stockroom, student, section, draft
):
    """From the typed CAS number to the student's plan and the stockroom's sheet."""
    client = sign_in(instructor)
    use(client, draft)
    fields = {"value": "4.14", "uncertainty": "0.03", "source": "a handbook", "grade": "B",
              "note": ""}
    send(client, draft, "substances",
         **{f"substance-1-values-pKa1-{name}": typed for name, typed in fields.items()})
    published = client.post(
        reverse("publish-exercise", args=[draft.public_id]), dates(section) | POLICY)
    assert published.status_code == 302, published.content.decode()[-3000:]
    work = Work.objects.get()
    data = {"steps": plan_to_data(work.revision.to_core().model_plan)}
    save_plan(actor=student, work=work, data=data, base_version=0, change="Wrote the plan")
    theirs = sign_in(student)
    for name in ("build-plan", "fill-reagents"):
        page = theirs.get(reverse(name, args=[work.public_id]))
        assert page.status_code == 200, name
    assert "4-fluorobenzoic acid" in page.content.decode().casefold()
    answer = sign_in(stockroom).get(
        reverse("print-prep-sheet", args=[work.assignment.public_id]))
    assert answer["Content-Type"] == "application/pdf"
    assert "4-fluorobenzoic acid" in " ".join(pages_of(answer.content)).casefold()
