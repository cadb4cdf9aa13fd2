"""Building a plan by forms alone, and the same by fragments."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from workups.documents import library_text
from workups.models import PlanRevision
from workups.selectors.plans import current_plan
from workups.services.exercises import assign_revision, publish_revision
from workups.services.planning import save_plan
from workups.services.works import start_work

HTMX = {"HX-Request": "true"}
WASH = {
    "flask": "reaction flask",
    "material": "water",
    "volume_mL": "25",
    "portions": "2",
    "vent": "on",
    "settle_min": "2",
    "keep": "upper",
    "keep_in": "organic layer",
    "other_in": "washings",
    "note": "",
}


@pytest.fixture
def post(sign_in, student, work):
    """Post to a page of the plan as the newest version of it would."""
    client = sign_in(student)

    def send(do, htmx=False, **data):
        plan = current_plan(work)
        name = "build-plan" if ":" in do else do
        url = reverse(name, args=[work.public_id])
        data.setdefault("do", do)
        data.setdefault("version", plan.version if plan else 0)
        return client.post(url, data, headers=HTMX if htmx else {})

    return send


@pytest.fixture
def page(sign_in, student, work):
    def get(name, *args, htmx=False, **query):
        url = reverse(name, args=[work.public_id, *args])
        return sign_in(student).get(url, query, headers=HTMX if htmx else {}).content.decode()

    return get


def steps(work):
    plan = current_plan(work)
    return plan.data["steps"] if plan else []


def test_a_step_is_added_and_opened_for_filling_in(post, page, work):
    response = post("add:wash")
    assert response.url == reverse("build-plan", args=[work.public_id]) + "?step=s1#step-s1"
    form = page("build-plan", step="s1")
    assert "Volume of each portion, mL" in form
    assert "Mend" not in form
    assert "errorlist" not in form


def test_a_new_shake_has_no_layer_and_no_liquid_chosen_for_the_student(post, work):
    post("add:wash")
    typed = steps(work)[0]["typed"]
    assert "keep" not in typed
    assert "material" not in typed
    assert typed["flask"] == "reaction flask"


def test_a_step_filled_in_becomes_a_sentence(post, page, work):
    post("add:wash")
    response = post("edit:s1", **WASH)
    assert response.url == reverse("build-plan", args=[work.public_id]) + "?at=s1#step-s1"
    assert "twice, shaking and venting" in page("build-plan")
    assert steps(work)[0]["volume_mL"] == 25.0


def test_what_was_typed_stays_with_the_word_on_it(post, page, work):
    post("add:wash")
    response = post("edit:s1", **{**WASH, "volume_mL": "a lot", "material": ""})
    assert response.url == reverse("build-plan", args=[work.public_id]) + "?step=s1#step-s1"
    form = page("build-plan", step="s1")
    assert 'value="a lot"' in form
    assert "A number is expected here" in form
    assert "This field is required" in form
    assert 'value="organic layer"' in form


def test_a_step_once_filled_in_keeps_what_makes_it_wrong(post, page, work):
    post("add:wash")
    post("edit:s1", **WASH)
    post("edit:s1", **{**WASH, "volume_mL": "5000"})
    assert "Between 0.1 and 2000" in page("build-plan", step="s1")
    assert "not filled in yet" in page("build-plan")


def test_a_flask_that_is_not_there_yet_is_told_beside_the_field(post, page):
    post("add:wash")
    post("edit:s1", **WASH)
    post("add:stand")
    post("edit:s2", flask="organic layer", minutes="5")
    post("move:s2", by="-1")
    assert "does not exist at this point" in page("build-plan")
    form = page("build-plan", step="s2")
    assert "organic layer (not there at this point)" in form
    assert "does not exist at this point" in form


def test_water_is_poured_into_a_beaker_that_was_not_there_and_the_mixture_into_it(post, page):
    post("add:add")
    post("edit:s1", flask="beaker", material="water", volume_mL="100")
    post("add:transfer")
    post("edit:s2", flask="reaction flask", into="beaker", rinse_mL="0", rinses="0")
    plan = page("build-plan")
    assert "does not exist at this point" not in plan
    assert "not filled in yet" not in plan
    assert 'value="beaker"' in page("build-plan", step="s2")


def test_both_layers_into_one_flask_is_told_beside_the_field(post, page):
    post("add:wash")
    post("edit:s1", **{**WASH, "other_in": "organic layer"})
    assert "both layers would go to the same flask" in page("build-plan", step="s1")


def test_flasks_made_so_far_are_offered(post, page):
    post("add:wash")
    post("edit:s1", **WASH)
    post("add:combine")
    form = page("build-plan", step="s2")
    assert form.count("washings") >= 2
    assert "organic layer" in form


def test_a_step_moves_is_duplicated_and_removed_and_the_removal_undone(post, page, work):
    for verb in ("cool", "stand"):
        post(f"add:{verb}")
    post("move:s2", by="-1")
    assert [s["id"] for s in steps(work)] == ["s2", "s1"]
    post("copy:s1")
    assert [s["id"] for s in steps(work)] == ["s2", "s1", "s3"]
    post("remove:s2")
    assert [s["id"] for s in steps(work)] == ["s1", "s3"]
    assert "Removed step 1, Let stand" in page("build-plan")
    version = current_plan(work).version
    post("restore-plan", to_version=version - 1)
    assert [s["id"] for s in steps(work)] == ["s2", "s1", "s3"]


def test_a_step_can_be_added_in_the_middle(post, work):
    for verb in ("cool", "stand"):
        post(f"add:{verb}")
    post("add:test", after="s1")
    assert [s["verb"] for s in steps(work)] == ["cool", "test", "stand"]


def test_a_fragment_is_the_same_list_as_on_the_page(post, page):
    post("add:cool")
    token = re.compile(r'name="csrfmiddlewaretoken" value="[^"]*"')
    fragment = token.sub("", page("build-plan", htmx=True)).strip()
    assert "<html" not in fragment
    assert fragment in token.sub("", page("build-plan"))


def test_adding_by_fragment_gives_the_list_with_the_step_open(post):
    fragment = post("add:wash", htmx=True).content.decode()
    assert 'id="plan"' in fragment
    assert 'id="form-s1"' in fragment
    assert "autofocus" in fragment


def test_typing_is_saved_without_renewing_the_fields(post, work):
    """Only what changed beside the fields comes back, so that nothing typed is overwritten."""
    post("add:wash", htmx=True)
    answer = post("edit:s1", htmx=True, **{**WASH, "volume_mL": "abc", "keep": ""})
    fragment = answer.content.decode()
    assert steps(work)[0]["typed"]["volume_mL"] == "abc"
    assert "A number is expected here" in fragment
    assert "This field is required" not in fragment
    assert 'name="volume_mL"' not in fragment
    assert 'hx-swap-oob="outerHTML:.plan-version"' in fragment
    assert f'value="{current_plan(work).version}"' in fragment


def test_keeping_a_step_by_fragment_closes_it_or_says_what_is_missing(post):
    post("add:wash", htmx=True)
    open_again = post("edit:s1", htmx=True, close="yes", **{**WASH, "keep": ""})
    assert "This field is required" in open_again.content.decode()
    closed = post("edit:s1", htmx=True, close="yes", **WASH).content.decode()
    assert 'id="form-s1"' not in closed
    assert "keep the upper layer" in closed


def test_two_tabs_on_one_step_are_asked_and_nothing_is_lost(post, page, work):
    post("add:wash")
    post("edit:s1", **WASH)
    version = current_plan(work).version
    post("edit:s1", version=version, **{**WASH, "volume_mL": "30"})
    response = post("edit:s1", version=version, **{**WASH, "volume_mL": "40"})
    aside = PlanRevision.objects.get(work=work, aside=True)
    assert response.url == reverse("choose-draft", args=[work.public_id, aside.version])
    choice = page("choose-draft", aside.version)
    assert "40" in choice
    assert "30" in choice
    assert "differs" in choice
    post("restore-plan", to_version=aside.version)
    assert steps(work)[0]["volume_mL"] == 40.0


def test_a_conflict_in_a_fragment_leads_to_the_choice(post, work):
    post("add:wash")
    post("edit:s1", **WASH)
    version = current_plan(work).version
    post("edit:s1", version=version, **{**WASH, "volume_mL": "30"})
    answer = post("edit:s1", version=version, htmx=True, **{**WASH, "volume_mL": "40"})
    assert "/two-drafts/" in answer.headers["HX-Redirect"]


@pytest.mark.parametrize(
    ("do", "data"),
    [
        ("add:explode", {}),
        ("add:cool", {"version": "x"}),
        ("move:s1", {"by": "700"}),
        ("move:s1", {}),
        ("remove:s1", {"version": "x"}),
        ("remove:", {}),
        ("fly:s1", {}),
        ("restore-plan", {"to_version": "99"}),
    ],
)
def test_what_makes_no_sense_changes_nothing(post, page, work, do, data):
    post("add:cool")
    before = steps(work)
    assert post(do, **data).status_code == 302
    assert steps(work) == before
    assert "could not be read" in page("build-plan")


def test_a_step_removed_in_another_tab_is_said_to_be_gone(post, page, work):
    post("add:cool")
    post("remove:s1")
    for do in ("remove:s1", "edit:s1", "copy:s1", "down:s1"):
        assert post(do).status_code == 302
        assert "no longer in the plan" in page("build-plan")


def test_a_plan_of_thirty_steps_is_read_in_few_queries(
    planned_work, student, sign_in, django_assert_max_num_queries
):
    data = planned_work.plan_revisions.first().data["steps"]
    many = [{**step, "id": f"s{n}"} for n, step in enumerate(data * 2, 1)][:30]
    save_plan(
        actor=student, work=planned_work, data={"steps": many}, base_version=1, change="Long"
    )
    client = sign_in(student)
    with django_assert_max_num_queries(20):
        page = client.get(reverse("build-plan", args=[planned_work.public_id]))
    assert page.content.decode().count('class="step"') == 30


def test_drafts_are_listed_and_can_be_read(planned_work, sign_in, student):
    client = sign_in(student)
    history = client.get(reverse("show-plan-history", args=[planned_work.public_id]))
    assert "Wrote the plan" in history.content.decode()
    draft = client.get(reverse("show-plan-version", args=[planned_work.public_id, 1]))
    assert "MTBE" in draft.content.decode()
    missing = reverse("show-plan-version", args=[planned_work.public_id, 9])
    assert client.get(missing).status_code == 404


def test_a_long_plan_is_edited_with_as_few_questions_to_the_database(
    sign_in, planned_work, student
):
    client = sign_in(student)
    asked = []
    for count in (5, 30):
        plan = current_plan(planned_work)
        first = plan.data["steps"][0]
        steps = [{**first, "id": f"n{number}"} for number in range(count)]
        save_plan(
            actor=student,
            work=planned_work,
            data={"steps": steps},
            base_version=plan.version,
            change="More",
        )
        version = current_plan(planned_work).version
        sent = {"do": "edit:n2", "version": version, "flask": first["flask"], "to_C": "7"}
        url = reverse("build-plan", args=[planned_work.public_id])
        with CaptureQueriesContext(connection) as queries:
            answer = client.post(url, sent, headers=HTMX)
        assert answer.status_code == 200
        assert current_plan(planned_work).data["steps"][2]["to_C"] == 7
        asked.append(len(queries))
    assert asked[1] == asked[0]


def test_undo_goes_back_change_by_change_and_says_what_it_undoes(
    post, page, work, sign_in, student
):
    """It used to go to and fro between the last two states."""
    for verb in ("cool", "tare", "weigh"):
        post(f"add:{verb}")
    url = reverse("restore-plan", args=[work.public_id])
    for undone, left in (("Added Weigh", 2), ("Added Tare", 1)):
        undo = sign_in(student).get(reverse("build-plan", args=[work.public_id])).context["undo"]
        assert undo.words == undone
        sent = {"version": current_plan(work).version, "to_version": undo.to_version, "undo": "on"}
        sign_in(student).post(url, sent)
        assert len(steps(work)) == left
        assert current_plan(work).change == f"Undid: {undone}"
    post("add:strip")
    assert "Undo: Added Strip" in page("build-plan")


def test_a_new_step_takes_over_what_most_likely_stays(post, work):
    post("add:wash")
    post("edit:s1", **{**WASH, "keep_in": "", "other_in": ""})
    assert (steps(work)[0]["keep_in"], steps(work)[0]["other_in"]) == ("upper layer", "lower layer")
    post("add:wash")
    typed = steps(work)[1]["typed"]
    assert (typed["flask"], typed["keep_in"], typed["keep"]) == ("upper layer",) * 2 + ("upper",)
    assert (typed["other_in"], typed["volume_mL"]) == ("lower layer", 25.0)
    assert "material" not in typed
    post("add:tare")
    post("add:filter")
    filtered = steps(work)[3]
    assert (filtered["flask"], filtered["into"]) == ("upper layer", "round-bottom flask")
    post("add:discard", after="s1")
    assert steps(work)[1]["flask"] == "lower layer"


def test_an_empty_plan_begins_with_an_earlier_own_one(
    page, sign_in, student, planned_work, course, section, instructor, terms, enrolment_of
):
    """What the other exercise has not is taken out of the steps that are taken over."""
    published = publish_revision(
        actor=instructor, course=course, key="plain-ether", title="Plain and simple",
        document=library_text("plain-ether"),
    )
    assigned = assign_revision(actor=instructor, revision=published, section=section, terms=terms)
    empty = start_work(assignment=assigned, enrolment=enrolment_of(student))
    client, url = sign_in(student), reverse("copy-plan", args=[empty.public_id])
    assert f'action="{url}"' in client.get(
        reverse("build-plan", args=[empty.public_id])
    ).content.decode()
    client.post(url, {"source": planned_work.public_id, "version": 0})
    assert [s["verb"] for s in steps(empty)] == [s["verb"] for s in steps(planned_work)]
    extract = next(s for s in steps(empty) if s["verb"] == "extract")
    assert "material" not in extract["typed"]  # MTBE is no liquid of that exercise
    again = {"source": planned_work.public_id, "version": 1}
    client.post(url, again)
    assert current_plan(empty).version == 1
    assert client.post(url, {**again, "source": empty.public_id}).status_code == 302
