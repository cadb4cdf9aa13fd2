"""Variants in the database: given to sections and students, frozen, used by the assessments."""

import pytest

from workups.documents import library_text
from workups.documents.variants import AmountSpread, Swap, Variant
from workups.models import AuditEntry, OwnExercise
from workups.services.assessments import assess_plan_of, assess_work
from workups.services.bench import ExercisesDiffer, join_bench, start_bench
from workups.services.exercises import assign_revision, publish_revision
from workups.services.planning import save_plan, submit_plan
from workups.services.publishing import SectionTerms, give_to_sections
from workups.services.variants import (
    BenchHasBegun,
    VariantIsInUse,
    add_variant,
    drop_variant,
    give_variant_to_section,
    give_variant_to_student,
    text_for,
    what_it_gives,
)
from workups.services.works import start_work

pytestmark = pytest.mark.django_db
OTHER_AMOUNTS = Variant(spreads=(AmountSpread("1_hexanol", 0.2),))


@pytest.fixture
def spread(revision, instructor):
    return add_variant(
        actor=instructor, revision=revision, title="Own amounts", variant=OTHER_AMOUNTS
    )


@pytest.fixture
def half(revision, instructor):
    return add_variant(
        actor=instructor, revision=revision, title="Half scale", variant=Variant(scale=0.5)
    )


def hexanol_g(work):
    reagents = work.to_core().setup.reaction.reagents
    return next(r.mass_g for r in reagents if r.substance == "1_hexanol")


def test_a_section_gets_own_amounts_and_they_stay(
    spread, assignment, work, classmates_work, instructor
):
    given = give_variant_to_section(actor=instructor, assignment=assignment, variant=spread)
    assert (given.changed, given.kept) == (2, 0)
    for one in (work, classmates_work):
        one.refresh_from_db()
    assert hexanol_g(work) != hexanol_g(classmates_work)
    assert 0.8 * 5.11 <= hexanol_g(work) <= 1.2 * 5.11
    assert work.exercise_text == text_for(spread, work.student)
    assert work.exercise_text != work.revision.document
    assert AuditEntry.objects.filter(action="give-variant").count() == 1


def test_what_a_student_has_is_frozen(spread, assignment, work, instructor):
    """Whatever becomes of the recipe, the text of the work is the one that was given."""
    give_variant_to_section(actor=instructor, assignment=assignment, variant=spread)
    work.refresh_from_db()
    before = work.exercise_text
    spread.data = {**spread.data, "scale": 2.0}
    spread.save()
    work.refresh_from_db()
    assert work.exercise_text == before


def test_students_with_the_same_form_share_its_text(half, assignment, work, classmates_work,
                                                    instructor):
    give_variant_to_section(actor=instructor, assignment=assignment, variant=half)
    work.refresh_from_db()
    classmates_work.refresh_from_db()
    assert work.own_exercise_id == classmates_work.own_exercise_id
    assert OwnExercise.objects.count() == 1


def test_who_comes_later_gets_the_sections_form(half, assignment, student, enrolment_of,
                                                instructor):
    give_variant_to_section(actor=instructor, assignment=assignment, variant=half)
    work = assignment.works.get(enrolment=enrolment_of(student)) if (
        assignment.works.exists()) else start_work(
        assignment=assignment, enrolment=enrolment_of(student))
    assert work.variant == half
    assert hexanol_g(work) == pytest.approx(5.11 / 2, abs=0.01)


def test_who_has_begun_keeps_what_they_have(
    half, assignment, planned_work, classmates_work, instructor
):
    given = give_variant_to_section(actor=instructor, assignment=assignment, variant=half)
    assert (given.changed, given.kept) == (1, 1)
    planned_work.refresh_from_db()
    assert planned_work.own_exercise is None


def test_one_student_alone_gets_another_form_and_can_go_back(
    half, planned_work, classmates_work, instructor
):
    give_variant_to_student(
        actor=instructor, work=planned_work, variant=half, reason="half a bench"
    )
    classmates_work.refresh_from_db()
    assert classmates_work.own_exercise is None
    assert hexanol_g(planned_work) == pytest.approx(5.11 / 2, abs=0.01)
    give_variant_to_student(actor=instructor, work=planned_work, variant=None, reason="as before")
    assert planned_work.exercise_text == planned_work.revision.document
    logged = AuditEntry.objects.filter(action="give-variant").order_by("pk")
    assert [(e.details["before"], e.details["variant"]) for e in logged] == [
        ("", str(half)), (str(half), "")
    ]


def test_the_section_s_form_leaves_a_student_s_own_one_alone(
    half, spread, assignment, work, instructor
):
    give_variant_to_student(actor=instructor, work=work, variant=half, reason="half a bench")
    give_variant_to_section(actor=instructor, assignment=assignment, variant=spread)
    work.refresh_from_db()
    assert work.variant == half


def test_at_the_bench_it_is_too_late(half, bench_work, instructor):
    with pytest.raises(BenchHasBegun):
        give_variant_to_student(actor=instructor, work=bench_work, variant=half, reason="late")


def test_assessments_judge_by_the_student_s_own_exercise(
    half, planned_work, instructor, student, few_draws
):
    """The model plan at half scale is expected to give half the mass, and says so when stored."""
    plan = planned_work.to_core().model_plan
    whole = assess_plan_of(planned_work, plan).expected[0].class_band.nominal
    give_variant_to_student(
        actor=instructor, work=planned_work, variant=half, reason="half a bench"
    )
    submit_plan(actor=student, work=planned_work, base_version=1)
    snapshot = assess_work(actor=instructor, work=planned_work)
    assert snapshot.own_exercise == planned_work.own_exercise
    assert snapshot.exercise_to_core() == planned_work.to_core()
    part = snapshot.to_core().expected[0].class_band.nominal
    assert part == pytest.approx(whole / 2, rel=0.05)


def test_partners_share_a_record_only_with_the_same_exercise(
    half, bench_work, classmates_work, instructor
):
    give_variant_to_student(
        actor=instructor, work=classmates_work, variant=half, reason="half a bench"
    )
    with pytest.raises(ExercisesDiffer):
        join_bench(
            actor=classmates_work.student, work=classmates_work, record=bench_work.bench_record
        )
    give_variant_to_student(actor=instructor, work=classmates_work, variant=None, reason="pair")
    join_bench(
        actor=classmates_work.student, work=classmates_work, record=bench_work.bench_record
    )


def test_a_variant_in_use_is_not_dropped(half, work, instructor):
    give_variant_to_student(actor=instructor, work=work, variant=half, reason="half a bench")
    with pytest.raises(VariantIsInUse):
        drop_variant(actor=instructor, variant=half)
    give_variant_to_student(actor=instructor, work=work, variant=None, reason="back")
    drop_variant(actor=instructor, variant=half)
    assert half.dropped_at is not None


def test_a_new_revision_takes_its_variants_along(
    half, revision, assignment, work, instructor, terms
):
    """As far as they fit; whoever had one and had not begun has it of the new revision."""
    bare = add_variant(
        actor=instructor,
        revision=revision,
        title="Without magnesium sulfate",
        variant=Variant((Swap("magnesium_sulfate", "sodium_sulfate"),)),
    )
    give_variant_to_student(actor=instructor, work=work, variant=half, reason="half a bench")
    text = library_text("plain-ether")
    newer = publish_revision(
        actor=instructor, course=revision.course, key=revision.key, title="New", document=text
    )
    titles = set(newer.variants.values_list("title", flat=True))
    assert "Half scale" in titles
    give_to_sections(actor=instructor, revision=newer, to=[SectionTerms(assignment.section, terms)])
    work.refresh_from_db()
    assert work.revision == newer
    assert work.variant.title == "Half scale"
    assert work.variant.revision == newer
    assert what_it_gives(bare).exercise != revision.to_core()


def test_a_section_with_a_form_has_it_of_the_next_revision_too(
    half, revision, assignment, instructor, terms
):
    give_variant_to_section(actor=instructor, assignment=assignment, variant=half)
    newer = publish_revision(
        actor=instructor,
        course=revision.course,
        key=revision.key,
        title="New",
        document=revision.document + "\n",
    )
    given = assign_revision(
        actor=instructor, revision=newer, section=assignment.section, terms=terms
    )
    assert given.variant.title == "Half scale"


def test_a_bench_record_of_own_amounts_follows_the_own_plan(
    spread, assignment, work, student, instructor, few_draws
):
    give_variant_to_section(actor=instructor, assignment=assignment, variant=spread)
    work.refresh_from_db()
    from workups.documents import plan_to_data

    data = {"steps": plan_to_data(work.to_core().model_plan)}
    save_plan(actor=student, work=work, data=data, base_version=0, change="Wrote it")
    submit_plan(actor=student, work=work, base_version=1)
    start_bench(actor=student, work=work)
    assert work.bench_record.plan_revision.to_core() == work.to_core().model_plan
