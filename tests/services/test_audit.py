import pytest

from workups.models import AuditEntry, RowIsAppendOnly
from workups.services.audit import record_audit


def test_an_entry_says_who_did_what_to_which_object(course, section, instructor):
    entry = record_audit(
        actor=instructor,
        action="edit-section",
        subject=section,
        course=course,
        details={"before": "x"},
    )
    entry.refresh_from_db()
    assert (entry.actor, entry.actor_name) == (instructor, "Iris Instructor")
    assert (entry.object_type, entry.object_text) == ("section", "Tuesday A")
    assert entry.object_id == str(section.public_id)
    assert entry.details == {"before": "x"}


def test_what_the_program_does_by_itself_has_no_actor(db):
    assert record_audit(actor=None, action="lock-readings").actor_name == "Labcourse"


def test_entries_are_neither_changed_nor_removed(course, instructor):
    entry = record_audit(actor=instructor, action="edit-course", subject=course)
    entry.action = "nothing"
    with pytest.raises(RowIsAppendOnly):
        entry.save()
    with pytest.raises(RowIsAppendOnly):
        entry.delete()
    with pytest.raises(RowIsAppendOnly):
        AuditEntry.objects.all().delete()
    with pytest.raises(RowIsAppendOnly):
        AuditEntry.objects.update(action="nothing")
