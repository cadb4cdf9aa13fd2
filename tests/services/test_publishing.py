"""Drafts, the guard, and model runs that are computed once."""

from dataclasses import replace

import pytest

from workups.documents import DocumentError, library_text
from workups.models import ExerciseDraft, ExerciseRevision, ModelRun, Role
from workups.services.assessments import compute_assessment
from workups.services.courses import enrol_person
from workups.services.drafts import (
    UNTITLED,
    StaleDraft,
    read_draft,
    save_draft,
    start_draft,
    title_in,
)
from workups.services.exercises import publish_revision
from workups.services.publishing import (
    GuardReasonMissing,
    SectionTerms,
    assess_model,
    assess_model_of,
    digest_of,
    failing_checks,
    give_to_sections,
    publish_draft,
)

pytestmark = pytest.mark.usefixtures("few_draws")
ESTER = library_text("too-much-vinegar")


def test_a_title_is_read_from_a_text_as_far_as_it_goes():
    assert title_in('title = "  Ether, plain  "') == "Ether, plain"
    assert title_in("title = 3") == UNTITLED
    assert title_in('title = ""') == UNTITLED
    assert title_in("no [ toml") == UNTITLED
    assert len(title_in(f'title = "{"x" * 300}"')) == 200


def test_a_model_run_is_computed_once_for_what_it_depends_on(db, monkeypatch):
    first = assess_model(document=ESTER)
    assert assess_model(document=ESTER) == first
    assert ModelRun.objects.count() == 1
    assess_model(document=ESTER, seed=2)
    assert ModelRun.objects.count() == 2
    assert digest_of(ESTER, 1) != digest_of(ESTER + "\n", 1)
    before = digest_of(ESTER, 1)
    monkeypatch.setattr("workups.services.assessments.DRAWS", 5)
    assert digest_of(ESTER, 1) != before


def test_a_revision_is_judged_with_the_draws_of_its_reports(revision):
    computed = compute_assessment(revision=revision, plan=None)
    judged = assess_model_of(revision).expected
    assert all(e.same_total and e.same_portion for e in judged)
    # The recovery by portions is worked out for the author alone.
    assert tuple(replace(e, same_total=(), same_portion=()) for e in judged) == computed.expected


def test_the_librarys_model_plans_pass_their_checks(db):
    assert failing_checks(assess_model(document=ESTER)) == ()


def test_the_guard_holds_even_where_no_page_asked(course, instructor):
    start = ESTER.index('[[model_plan.step]]\nverb = "dry"')
    end = ESTER.index('[[model_plan.step]]\nverb = "tare"')
    wet = ESTER[:start] + ESTER[end:]
    draft = start_draft(actor=instructor, course=course, document=wet)
    fails = failing_checks(assess_model(document=wet))
    assert [check.name for check in fails] == ["drying"]
    with pytest.raises(GuardReasonMissing):
        publish_draft(actor=instructor, draft=draft, to=(), guard_reason="  ")
    assert ExerciseDraft.objects.exists()
    publish_draft(actor=instructor, draft=draft, to=(), guard_reason="On purpose.")
    assert ExerciseRevision.objects.get().guard_reason == "On purpose."


def test_a_reason_that_was_not_needed_is_not_kept(course, instructor):
    draft = start_draft(actor=instructor, course=course, document=ESTER)
    revision = publish_draft(actor=instructor, draft=draft, to=(), guard_reason="None needed.")
    assert revision.guard_reason == ""
    assert revision.key == "too-much-vinegar"


def test_a_text_that_cannot_be_read_is_not_published(course, instructor):
    draft = start_draft(actor=instructor, course=course, document="x = 1")
    exercise, error = read_draft(draft)
    assert exercise is None
    assert error is not None
    with pytest.raises(DocumentError):
        publish_draft(actor=instructor, draft=draft, to=())
    assert not ExerciseRevision.objects.exists()


def test_the_same_text_saved_twice_is_one_version_and_an_old_one_is_refused(course, instructor):
    draft = start_draft(actor=instructor, course=course, document=ESTER)
    saved = save_draft(actor=instructor, draft=draft, document=ESTER, base_version=1)
    assert saved.version == 1
    saved = save_draft(actor=instructor, draft=draft, document="a = 1", base_version=1)
    assert saved.version == 2
    again = save_draft(actor=instructor, draft=draft, document="a = 1", base_version=1)
    assert again.version == 2
    with pytest.raises(StaleDraft):
        save_draft(actor=instructor, draft=draft, document="b = 1", base_version=1)


def test_a_student_who_became_a_ta_is_in_nobodys_way_when_a_section_gets_a_new_revision(
    work, course, section, student, instructor, terms
):
    enrol_person(course=course, person=student, role=Role.TA, assigned_sections=[section])
    newer = publish_revision(
        actor=instructor, course=course, key=work.revision.key, title="New", document=ESTER
    )
    give_to_sections(actor=instructor, revision=newer, to=[SectionTerms(section, terms)])
    work.refresh_from_db()
    assert work.revision == newer


def test_of_very_many_states_of_a_draft_the_oldest_go(course, instructor, monkeypatch):
    monkeypatch.setattr("workups.services.drafts.KEPT_STATES", 3)
    monkeypatch.setattr("workups.services.drafts._STATES_GO_EVERY", 2)
    text = library_text("too-much-vinegar")
    draft = start_draft(actor=instructor, course=course, document=text)
    for version in range(1, 9):
        draft = save_draft(
            actor=instructor, draft=draft, document=f"{text}# {version}\n", base_version=version
        )
    assert set(draft.states.values_list("version", flat=True)) == {6, 7, 8}
