"""A course copied for a new term: everything that was prepared, nobody's work, later dates."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from workups.documents.variants import Variant
from workups.models import AuditEntry, Enrolment, Remark, Work
from workups.services.exercises import publish_revision, set_exercise_archived
from workups.services.new_term import NewTerm, copy_course, weeks_later
from workups.services.variants import add_variant, give_variant_to_section

pytestmark = pytest.mark.django_db
NEXT = NewTerm("Organic Laboratory II", "Spring", 20)


@pytest.fixture
def prepared(course, revision, assignment, other_section, instructor, work):
    """Two revisions, the newer one not given out yet, a variant in use, a remark, settings."""
    course.emergency_text, course.anonymous_marking = "Call 1234.", True
    course.sds_links = [{"label": "MTBE", "url": "https://sds.example/mtbe"}]
    course.save()
    half = add_variant(
        actor=instructor, revision=revision, title="Half", variant=Variant(scale=0.5)
    )
    give_variant_to_section(actor=instructor, assignment=assignment, variant=half)
    publish_revision(
        actor=instructor,
        course=course,
        key=revision.key,
        title=revision.title,
        document=revision.document.replace("\norder = 25\n", "\norder = 30\n"),
    )
    Remark.objects.create(course=course, text="Label it.", kept_by=instructor)
    return course


def test_settings_sections_exercises_and_variants_come_along(prepared, instructor, assignment):
    copied = copy_course(actor=instructor, course=prepared, new=NEXT)
    assert (copied.emergency_text, copied.anonymous_marking) == ("Call 1234.", True)
    assert copied.safety_links == prepared.safety_links
    assert [(s.name, s.meets) for s in copied.sections.all()] == [
        (s.name, s.meets) for s in prepared.sections.all()
    ]
    (revision,) = copied.revisions.all()
    assert revision.number == 1
    assert "\norder = 30\n" in revision.document  # the newest one
    (given,) = revision.assignments.all()
    assert given.section.name == assignment.section.name
    assert given.group_size == assignment.group_size
    assert given.variant.title == "Half"
    assert given.variant.revision == revision
    assert [r.text for r in copied.remarks.all()] == ["Label it."]
    assert AuditEntry.objects.filter(action="copy-course", course=copied).count() == 1


def test_dates_are_later_at_the_same_time_of_day(prepared, instructor, assignment):
    copied = copy_course(actor=instructor, course=prepared, new=NEXT)
    given = copied.revisions.get().assignments.get()
    for name in ("opens_at", "plan_due", "report_due"):
        before = timezone.localtime(getattr(assignment, name)).replace(tzinfo=None)
        after = timezone.localtime(getattr(given, name)).replace(tzinfo=None)
        assert (after - before).total_seconds() == 20 * 7 * 24 * 3600


def test_summer_time_does_not_move_the_clock():
    """Berlin leaves summer time on 25 October 2026: 18:00 stays 18:00, an hour more in UTC."""
    berlin = ZoneInfo("Europe/Berlin")
    with timezone.override(berlin):
        later = weeks_later(datetime(2026, 10, 20, 18, 0, tzinfo=berlin), 2)
        assert timezone.localtime(later).strftime("%a %d %b %H:%M") == "Tue 03 Nov 18:00"


def test_nobody_and_no_work_comes_along(prepared, instructor, student, work):
    works = Work.objects.count()
    copied = copy_course(actor=instructor, course=prepared, new=NEXT)
    assert [e.person for e in Enrolment.objects.filter(course=copied)] == [instructor]
    assert Work.objects.count() == works
    work.refresh_from_db()
    assert work.revision.course == prepared


def test_what_is_put_away_stays_behind(prepared, revision, instructor):
    set_exercise_archived(actor=instructor, revision=revision, archived=True)
    copied = copy_course(actor=instructor, course=prepared, new=NEXT)
    assert not copied.revisions.exists()


@pytest.mark.parametrize("archive", [True, False])
def test_the_old_course_is_archived_if_asked(prepared, instructor, archive):
    new = NewTerm("Organic Laboratory II", "Spring", 20, archive_old=archive)
    copy_course(actor=instructor, course=prepared, new=new)
    prepared.refresh_from_db()
    assert prepared.is_archived is archive
