"""Pages for variants: made, looked at, given; invisible to students."""

import pytest
from django.urls import reverse

from workups.documents import load_exercise
from workups.documents.variants import AmountSpread, Variant
from workups.models import AuditEntry, ExerciseVariant, Work
from workups.services.variants import (
    add_variant,
    give_variant_to_section,
    give_variant_to_student,
)
from workups.web.authoring.prep_views import ta_sheet

pytestmark = pytest.mark.usefixtures("few_draws")
FORM = {
    "title": "Ethyl acetate",
    "old_1": "mtbe",
    "new_1": "ethyl_acetate",
    "scale": "1",
    "most_portions": "6",
}


@pytest.fixture
def half(revision, instructor):
    return add_variant(
        actor=instructor, revision=revision, title="Half scale", variant=Variant(scale=0.5)
    )


def test_a_variant_is_made_and_says_what_follows(sign_in, instructor, revision, assignment):
    client = sign_in(instructor)
    url = reverse("add-variant", args=[revision.public_id])
    assert "No variant yet" in client.get(url).content.decode()
    page = client.post(url, FORM, follow=True).content.decode()
    for text in (
        "its model plan passes every check",
        "K of hexyl acetate between ethyl acetate and water",
        "What follows from the change",
        "On the bench, not any more: methyl tert-butyl ether (MTBE).",
        "as published",
    ):
        assert text in page, text
    variant = ExerciseVariant.objects.get()
    file = client.get(reverse("download-variant", args=[variant.public_id])).content.decode()
    assert "ethyl_acetate" in load_exercise(file).setup.materials


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"old_1": "", "new_1": ""}, "Change something"),
        ({"new_1": ""}, "Choose both"),
        ({"new_1": "brine"}, "one is a solvent, the other a solution"),
        ({"scale": "40"}, "is expected here"),
        ({"scale": "much"}, "A number is expected here"),
        ({"spread_percent": "20"}, "Say which amounts differ"),
        ({"spread_over": ["1_hexanol"]}, "Say by how much"),
        ({"title": ""}, "required"),
        ({"old_2": "mtbe", "new_2": "toluene"}, "exchanged already"),
        ({"title": "Half scale"}, "already has a variant of that name"),
    ],
)
def test_what_cannot_be_is_said_and_what_was_typed_stays(
    sign_in, instructor, revision, half, change, says
):
    url = reverse("add-variant", args=[revision.public_id])
    page = sign_in(instructor).post(url, FORM | change).content.decode()
    assert says in page
    if change.get("title", "x"):
        assert f'value="{(FORM | change)["title"]}"' in page
    assert ExerciseVariant.objects.count() == 1


def test_a_section_and_a_student_are_given_a_form(
    sign_in, instructor, assignment, half, work, classmates_work
):
    client = sign_in(instructor)
    url = reverse("give-variant", args=[assignment.public_id])
    page = client.post(
        url, {"student": work.public_id, "variant": half.public_id, "reason": "half a bench"},
        follow=True,
    ).content.decode()
    assert f"{work.student} has it now." in page
    assert "Half scale" in page
    page = client.post(
        url, {"section-variant": half.public_id}, follow=True
    ).content.decode()
    assert "One student has it now; one keeps what was begun or given." in page
    work.refresh_from_db()
    classmates_work.refresh_from_db()
    assert work.variant == classmates_work.variant == half
    assert AuditEntry.objects.filter(action="give-variant").count() == 2


def test_a_reason_is_asked_for(sign_in, instructor, assignment, half, work):
    url = reverse("give-variant", args=[assignment.public_id])
    page = sign_in(instructor).post(
        url, {"student": work.public_id, "variant": half.public_id, "reason": ""}
    ).content.decode()
    assert "field--wrong" in page
    work.refresh_from_db()
    assert work.variant is None


def test_an_instructor_tries_a_variant_as_a_student(sign_in, instructor, half):
    client = sign_in(instructor)
    page = client.post(reverse("try-variant", args=[half.public_id]), follow=True).content.decode()
    assert "This is your own try-out" in page
    work = Work.objects.get(enrolment__person=instructor)
    assert work.to_core().setup.reaction.reagents[0].mass_g in (2.55, 2.56)
    assert work.assignment.section.course != half.revision.course


def test_dropping_asks_that_nobody_has_it(sign_in, instructor, half, work):
    client = sign_in(instructor)
    url = reverse("drop-variant", args=[half.public_id])
    give_variant_to_student(actor=instructor, work=work, variant=half, reason="half")
    assert "Somebody has this variant" in client.post(url, follow=True).content.decode()
    give_variant_to_student(actor=instructor, work=work, variant=None, reason="back")
    assert "is dropped" in client.post(url, follow=True).content.decode()


def test_no_student_page_says_that_there_is_a_variant(
    sign_in, instructor, half, planned_work, classmates_work
):
    """The own exercise stands under everybody's title; a peer's page is as it was."""
    give_variant_to_student(actor=instructor, work=planned_work, variant=half, reason="half")
    pages = {}
    for work in (planned_work, classmates_work):
        client = sign_in(work.student)
        names = ("show-work", "fill-reagents", "build-plan", "show-plan-history", "print-plan")
        pages[work.pk] = " ".join(
            client.get(reverse(name, args=[work.public_id])).content.decode() for name in names
        )
        assert "variant" not in pages[work.pk].lower()
        assert "Half scale" not in pages[work.pk]
    own, peer = pages[planned_work.pk], pages[classmates_work.pk]
    # 5.11 g of 1-hexanol; half of it on the 0.01 g balance.
    assert ("2.56" in own or "2.55" in own, "5.11" in own) == (True, False)
    assert ("5.11" in peer, "2.56" in peer or "2.55" in peer) == (True, False)


def test_the_prep_sheet_counts_both_forms_and_the_ta_sheet_names_codes(
    sign_in, instructor, stockroom, half, assignment, work, classmates_work
):
    give_variant_to_student(actor=instructor, work=work, variant=half, reason="half")
    assignment.group_size = 1
    assignment.save()
    page = sign_in(stockroom).get(
        reverse("show-prep-sheet", args=[assignment.public_id]), {"spare": "0"}
    ).content.decode()
    # 5.11 g and half of it: 7.67 g put out as 7.7 g.
    assert '<td class="number">7.7\xa0g</td><td class="number">2.56\xa0g to 5.11\xa0g</td>' in page
    parts = ta_sheet(assignment, "A4").parts
    assert {p.codes for p in parts} == {(work.bench_code,), (classmates_work.bench_code,)}


def test_own_amounts_are_one_part_of_the_ta_sheet_with_a_line_for_each_code(
    instructor, revision, assignment, work, classmates_work
):
    spread = add_variant(
        actor=instructor,
        revision=revision,
        title="Own amounts",
        variant=Variant(spreads=(AmountSpread("1_hexanol", 0.2),)),
    )
    give_variant_to_section(actor=instructor, assignment=assignment, variant=spread)
    (part,) = ta_sheet(assignment, "A4").parts
    assert part.exercise == revision.to_core()
    codes = {own.code for own in part.own_amounts}
    assert codes == {work.bench_code, classmates_work.bench_code}


@pytest.mark.parametrize("name", ["show-variant", "download-variant"])
def test_variants_are_for_instructors(sign_in, half, ta, student, outsider, name, work):
    url = reverse(name, args=[half.public_id])
    assert [sign_in(p).get(url).status_code for p in (ta, student, outsider)] == [403, 403, 404]
