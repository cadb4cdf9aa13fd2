"""Each part of the author form: what is typed is saved, what is wrong is named and kept."""

import pytest
from django.urls import reverse

from workups.documents import library_text, load_exercise
from workups.documents.blank import BLANK_EXERCISE
from workups.documents.toml_text import parse
from workups.grading.slips import SLIPS
from workups.models import ExerciseDraft, Work
from workups.services.drafts import start_draft
from workups.web.authoring.form.choices import KINDS
from workups.web.authoring.form.parts import PARTS
from workups.web.authoring.form.saving import state_of
from workups.web.reports.sheet_views import sheet_head

pytestmark = pytest.mark.usefixtures("few_draws")
ESTER = "too-much-vinegar"
SHEET = "https://sheets.example/acetic-acid.pdf"
HTMX = {"HX-Request": "true"}
PAGES = [part.slug for part in PARTS if part.blocks]


@pytest.fixture
def draft(course, instructor):
    return start_draft(actor=instructor, course=course, document=library_text(ESTER))


@pytest.fixture
def blank(course, instructor):
    return start_draft(actor=instructor, course=course, document=BLANK_EXERCISE)


def url_of(draft, part):
    return reverse("edit-part", args=[draft.public_id, part])


def send(client, draft, part, headers=None, **typed):
    """Send some fields of a part, as the page that was just looked at would."""
    draft.refresh_from_db()
    known = next(p for p in PARTS if p.slug == part)
    typed.setdefault("base", state_of(known, parse(draft.document)))
    return client.post(url_of(draft, part), typed, headers=headers)


def data_of(draft):
    draft.refresh_from_db()
    return parse(draft.document)


@pytest.mark.parametrize("part", PAGES)
def test_every_part_shows_and_sending_it_as_it_is_changes_nothing(
    sign_in, instructor, draft, part
):
    client = sign_in(instructor)
    page = client.get(url_of(draft, part))
    assert page.status_code == 200
    form = page.context["form"]
    sent = {name: form[name].value() for name in form.fields}
    assert send(client, draft, part, **sent).status_code == 302
    draft.refresh_from_db()
    assert draft.document == library_text(ESTER)
    assert draft.version == 1


@pytest.mark.parametrize(
    ("part", "field", "typed", "where", "stored"),
    [
        ("exercise", "title", "Sour ester", ("title",), "Sour ester"),
        (
            "reaction",
            "reaction-reagent-1-mass_g",
            "10,22",
            ("reaction", "reagent", 0, "mass_g"),
            10.22,
        ),
        (
            "reaction",
            "reaction-reagent-1-substance",
            "60-29-7",
            ("reaction", "reagent", 0, "substance"),
            "diethyl_ether",
        ),
        (
            "reaction",
            "reaction-product-1-substance",
            "CCOC(C)=O",
            ("reaction", "product", 0, "substance"),
            "ethyl_acetate",
        ),
        (
            "reaction",
            "reaction-reagent-1-staff_dispensed",
            "yes",
            ("reaction", "reagent", 0, "staff_dispensed"),
            True,
        ),
        ("mixture", "start_phase", "aqueous", ("start_phase",), "aqueous"),
        ("mixture", "salting", "no", ("salting",), False),
        (
            "mixture",
            "slow_reaction-1-products",
            "1-hexanol: 1\r\nacetic acid: 1",
            ("slow_reaction", 0, "products"),
            {"1_hexanol": 1, "acetic_acid": 1},
        ),
        ("bench", "glassware-funnel_mL", "500", ("glassware", "funnel_mL"), 500),
        ("targets", "target-1-recovery_goal", "0.9", ("target", 0, "recovery_goal"), 0.9),
        ("marking", "rubric-points-order", "30", ("rubric", "points", "order"), 30),
        ("marking", "policy-detail", "nothing", ("policy", "detail"), "nothing"),
        ("choices", "choice-1-value", "200", ("choice", 0, "value"), "200"),
        ("texts", "texts-task", "Do it.\r\nWell.", ("texts", "task"), "Do it.\nWell."),
        (
            "safety",
            "texts-cautions",
            "Goggles.\r\n\r\nGloves. ",
            ("texts", "cautions"),
            ["Goggles.", "Gloves."],
        ),
    ],
)
def test_what_is_typed_stands_in_the_document(
    sign_in, instructor, draft, part, field, typed, where, stored
):
    response = send(sign_in(instructor), draft, part, **{field: typed})
    assert response.status_code == 302
    found = data_of(draft)
    for key in where:
        found = found[key]
    assert found == stored
    assert type(found) is type(stored)


@pytest.mark.parametrize(
    ("part", "field", "typed", "said"),
    [
        ("exercise", "key", "Not A Key", "Expected a name of lower-case letters"),
        ("reaction", "reaction-reagent-1-mass_g", "five", "Expected a number from 0 to 1000 g"),
        ("reaction", "reaction-reagent-1-mass_g", "-5.11", "Expected a number from 0 to 1000 g"),
        ("reaction", "reaction-reagent-1-substance", "hexanal oil", "Expected a substance, salt"),
        ("reaction", "reaction-reagent-1-volume_mL", "5", "Expected exactly one of mass, volume"),
        ("reaction", "reaction-conversion-high", "1.5", "Expected a share from 0 to 1"),
        ("mixture", "start_C", "900", "Expected a number from -80 to 250 °C"),
        ("bench", "glassware-funnel_mL", "0.25", "Expected a number from 10 to 5000 mL"),
        ("targets", "target-1-substance", "toluene", "neither charged nor made"),
        ("targets", "target-1-recovery_goal", "95", "Expected a number from 0 to 1"),
        ("marking", "rubric-points-order", "-1", "Expected a number from 0 to 1000"),
        ("choices", "choice-1-value", "2", "Expected a number from 20 to 5000 mL"),
        ("safety", "texts-emergency", "x" * 2001, "Expected at most 2000 characters"),
        ("texts", "sources", "x" * 301, "Expected at most 300 characters"),
        ("safety", "texts-cautions", "x" * 2001, "Expected at most 2000 characters"),
    ],
)
def test_what_is_wrong_is_named_at_its_field_and_kept(
    sign_in, instructor, draft, part, field, typed, said
):
    client = sign_in(instructor)
    live = send(client, draft, part, HTMX, **{field: typed})
    page = client.get(url_of(draft, part))
    for text in (live.content.decode(), page.content.decode()):
        assert said in text
        assert "to mend" in text
    assert page.context["form"][field].value() == typed
    assert client.get(reverse("publish-exercise", args=[draft.public_id])).status_code == 302


def test_a_row_is_added_filled_in_moved_and_removed(sign_in, instructor, draft):
    client = sign_in(instructor)
    response = send(client, draft, "reaction", do="add:reaction.reagent")
    assert response.url.endswith("#reaction-reagent-4")
    page = client.get(url_of(draft, "reaction")).content.decode()
    assert "Still to fill in." in page
    assert "Mend:" not in page
    send(
        client,
        draft,
        "reaction",
        **{"reaction-reagent-4-substance": "water", "do": "up:reaction.reagent:4"},
    )
    assert [r.get("substance") for r in data_of(draft)["reaction"]["reagent"]] == [
        "1_hexanol",
        "acetic_acid",
        "water",
        "sulfate",
    ]
    send(client, draft, "reaction", do="remove:reaction.reagent:3")
    assert data_of(draft) == parse(library_text(ESTER))


def test_the_last_row_goes_and_the_list_with_it(sign_in, instructor, draft):
    send(sign_in(instructor), draft, "targets", do="remove:target:1")
    assert "target" not in data_of(draft)


@pytest.mark.parametrize("do", ["add:nowhere", "remove:target:99", "up:target:x", "own:nothing"])
def test_a_button_that_is_none_does_nothing(sign_in, instructor, draft, do):
    assert send(sign_in(instructor), draft, "targets", do=do).status_code == 302
    assert data_of(draft) == parse(library_text(ESTER))


def test_materials_are_ticked_and_keep_their_order(sign_in, instructor, draft):
    before = data_of(draft)["materials"]
    ticked = {*before, "toluene"} - {"naoh_1m"}
    send(sign_in(instructor), draft, "bench", **{"materials": sorted(ticked), "materials-asked": 1})
    after = data_of(draft)["materials"]
    assert after == [*(key for key in before if key != "naoh_1m"), "toluene"]
    send(sign_in(instructor), draft, "bench", **{"glassware-funnel_mL": "300"})
    assert data_of(draft)["materials"] == after


def test_a_choice_is_made_and_taken_back(sign_in, instructor, draft):
    client = sign_in(instructor)
    page = client.get(url_of(draft, "choices"))
    group = next(
        s for s in page.context["blocks"][0].groups if s.group.title == "When the flask is tared"
    )
    value, reason = (f.bound.html_name for f in group.fields)
    send(client, draft, "choices", **{value: "before", reason: "Nobody dries glass twice."})
    exercise = load_exercise(ExerciseDraft.objects.get().document)
    assert exercise.choice("tare") == "before"
    assert exercise.reason("tare") == "Nobody dries glass twice."
    send(client, draft, "choices", **{"choice-3-value": "", "choice-3-reason": ""})
    assert data_of(draft) == parse(library_text(ESTER))


def test_an_own_value_stands_beside_the_tables_with_source_and_note(sign_in, instructor, draft):
    client = sign_in(instructor)
    page = client.get(url_of(draft, "values")).content.decode()
    assert "log10 K, methyl tert-butyl ether (MTBE) over water" in page
    assert "from memory: check" in page
    name = "pKa1:acetic_acid"
    response = send(client, draft, "values", do=f"own:{name}")
    assert response.url.endswith("#values-pKa1.3a.acetic_acid")
    page = client.get(url_of(draft, "values")).content.decode()
    assert "Still to fill in." in page
    assert "Acetic acid: pKa</legend>" in page
    assert "The tables say 4.76" in page.replace("\u00a0", " ")
    typed = {
        "values-pKa1.3a.acetic_acid-value": "4.70",
        "values-pKa1.3a.acetic_acid-source": "measured by the class of last year",
        "values-pKa1.3a.acetic_acid-note": "at 22 °C",
    }
    send(client, draft, "values", **typed)
    own = load_exercise(ExerciseDraft.objects.get().document).setup.values[name]
    assert (own.value, own.source, own.note) == (4.7, *list(typed.values())[1:])
    send(client, draft, "values", do=f"disown:{name}")
    assert data_of(draft) == parse(library_text(ESTER))


def test_what_is_known_of_a_substance_stands_beside_it_with_its_structure(
    sign_in, instructor, draft
):
    page = sign_in(instructor).get(url_of(draft, "reaction")).content.decode()
    for text in ("111-27-3", "102.18 g/mol", "read in a table", "Structure of 1-hexanol", "<svg"):
        assert text in page, text


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("isopentyl formate", "Use it in this exercise"),
        ("108-88-4", "check digit"),
        ("acetic acit", "Did you mean acetic acid"),
    ],
)
def test_a_substance_that_the_tables_do_not_hold_is_looked_up(
    sign_in, instructor, draft, typed, said
):
    client = sign_in(instructor)
    live = send(client, draft, "reaction", HTMX, **{"reaction-reagent-1-substance": typed})
    assert said in live.content.decode()
    assert data_of(draft)["reaction"]["reagent"][0]["substance"] == typed


def test_two_who_change_different_parts_do_not_meet(sign_in, instructor, draft):
    client = sign_in(instructor)
    base = state_of(next(p for p in PARTS if p.slug == "bench"), data_of(draft))
    send(client, draft, "exercise", title="Another title")
    send(client, draft, "bench", **{"glassware-funnel_mL": "500", "base": base})
    assert data_of(draft)["title"] == "Another title"
    assert data_of(draft)["glassware"]["funnel_mL"] == 500


@pytest.mark.parametrize("headers", [None, HTMX])
def test_two_who_change_the_same_part_overwrite_nothing_unasked(
    sign_in, instructor, draft, headers
):
    client = sign_in(instructor)
    base = state_of(next(p for p in PARTS if p.slug == "bench"), data_of(draft))
    send(client, draft, "bench", **{"glassware-funnel_mL": "500"})
    mine = {"glassware-funnel_mL": "125", "base": base}
    response = send(client, draft, "bench", headers, **mine)
    assert response.status_code == 200
    assert "Not saved yet" in response.content.decode()
    assert response.context["form"]["glassware-funnel_mL"].value() == "125"
    assert data_of(draft)["glassware"]["funnel_mL"] == 500
    send(client, draft, "bench", **{**mine, "base": response.context["state"]})
    assert data_of(draft)["glassware"]["funnel_mL"] == 125


def test_a_text_that_is_no_toml_leads_to_the_text(sign_in, instructor, draft):
    client = sign_in(instructor)
    ExerciseDraft.objects.update(document="key = [")
    for url in (url_of(draft, "bench"), reverse("edit-route", args=[draft.public_id])):
        assert client.get(url).url == reverse("edit-draft", args=[draft.public_id])
        assert client.post(url, {"title": "x"}).status_code == 302
        answer = client.post(url, {"title": "x", "do": "add:cool"}, headers=HTMX)
        assert answer.headers["HX-Redirect"] == reverse("edit-draft", args=[draft.public_id])
    assert "Nothing can be computed" in client.get(
        reverse("check-draft", args=[draft.public_id])
    ).content.decode()


def test_a_text_that_grows_too_large_is_not_saved_and_kept_in_the_page(
    sign_in, instructor, draft
):
    long = "word " * 45_000
    response = send(sign_in(instructor), draft, "texts", **{"texts-task": long})
    assert response.status_code == 200
    assert "At most 200 kB" in response.content.decode()
    assert response.context["form"]["texts-task"].value() == long


def test_the_blank_form_begins_with_nothing_wrong_and_names_the_exercise_by_its_title(
    sign_in, instructor, course
):
    client = sign_in(instructor)
    response = client.post(reverse("add-exercise", args=[course.public_id]), {"blank": "yes"})
    draft = ExerciseDraft.objects.get()
    first = client.get(response.url)
    assert first.url == url_of(draft, "exercise")
    page = client.get(first.url).content.decode()
    assert "Mend:" not in page
    assert "Still to fill in." in page
    send(client, draft, "exercise", title="Ester & acid: a start")
    assert data_of(draft)["key"] == "ester-acid-a-start"
    assert client.get(reverse("author-draft", args=[draft.public_id])).url == url_of(
        draft, "reaction"
    )


def test_a_saved_field_tells_the_panel_and_an_unchanged_one_does_not(sign_in, instructor, draft):
    client = sign_in(instructor)
    changed = send(client, draft, "bench", HTMX, **{"glassware-funnel_mL": "500"})
    assert "draft-changed" in changed.headers["HX-Trigger"]
    page = changed.content.decode()
    assert 'id="part-status"' in page
    assert "<input" not in page.replace('<input type="hidden"', "")
    again = send(client, draft, "bench", HTMX, **{"glassware-funnel_mL": "500"})
    assert "HX-Trigger" not in again.headers


@pytest.mark.parametrize("part", ["nowhere", "plan2"])
def test_a_part_that_is_none_is_not_there(sign_in, instructor, draft, part):
    assert sign_in(instructor).get(url_of(draft, part)).status_code == 404


def test_safety_data_sheets_and_the_emergency_text_reach_student_and_sheet(
    sign_in, instructor, draft
):
    client = sign_in(instructor)
    send(client, draft, "safety", do="add:texts.safety_sheet")
    typed = {
        "texts-emergency": "Acid in the eye: rinse, call.",
        "texts-safety_sheet-1-name": "acetic acid",
        "texts-safety_sheet-1-url": "javascript:alert(1)",
    }
    send(client, draft, "safety", **typed)
    page = client.get(url_of(draft, "safety")).content.decode()
    assert "Expected a web address that starts with https://" in page
    send(client, draft, "safety", **{**typed, "texts-safety_sheet-1-url": SHEET})
    response = client.post(reverse("try-draft", args=[draft.public_id]))
    page = client.get(response.url).content.decode()
    assert "Acid in the eye" in page
    assert f'href="{SHEET}"' in page
    work = Work.objects.get()
    said = sheet_head(work).emergency
    assert "Acid in the eye" in said
    assert SHEET in said


def test_a_title_with_a_control_character_is_kept_and_shown_without_it(
    sign_in, instructor, draft
):
    client = sign_in(instructor)
    send(client, draft, "exercise", title="a\x00b")
    assert data_of(draft)["title"] == "a\x00b"
    assert draft.title == "ab"
    assert "control character" in client.get(url_of(draft, "exercise")).content.decode()


def test_a_prior_is_set_by_its_plain_name_and_an_empty_field_takes_the_usual_weight(
    sign_in, instructor, draft
):
    client, name = sign_in(instructor), "priors-no.2d.rinse"
    page = client.get(url_of(draft, "diagnosis")).content.decode()
    assert "Nothing was rinsed after" in page
    assert "Usual weight 0.03: rinses are the first thing to go when time is short." in page
    send(client, draft, "diagnosis", **{name: "0,2"})
    assert data_of(draft)["priors"] == {"no-rinse": 0.2}
    assert 'value="0.2"' in client.get(url_of(draft, "diagnosis")).content.decode()
    send(client, draft, "diagnosis", **{name: ""})
    assert data_of(draft) == parse(library_text(ESTER))
    assert draft.version == 3


@pytest.mark.parametrize("typed", ["-1", "1001", "often"])
def test_a_weight_out_of_its_limits_is_named_at_its_field_and_kept(
    sign_in, instructor, draft, typed
):
    client = sign_in(instructor)
    send(client, draft, "diagnosis", **{"priors-spilled": typed})
    page = client.get(url_of(draft, "diagnosis")).content.decode()
    (field,) = [f for f in page.split('<div class="field ') if 'name="priors-spilled"' in f]
    assert f'value="{typed}"' in field
    assert "Expected a number from 0 to 1000" in field
    assert "1 to mend" in page


def test_every_explanation_has_a_field(sign_in, instructor, draft):
    form = sign_in(instructor).get(url_of(draft, "diagnosis")).context["form"]
    assert [a.path[1] for a in form.asked.values()] == sorted(
        SLIPS, key=lambda key: list(KINDS).index(SLIPS[key].kind)
    )
