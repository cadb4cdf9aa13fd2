import csv
import io
import re
from collections.abc import Mapping, Sequence

from django.db import transaction

from workups.models import Course, ExerciseRevision, Person
from workups.selectors.gradebook import FIRST_COLUMNS, gradebook_columns, gradebook_rows
from workups.services.audit import record_audit

BOM = "\ufeff"
# Blanks, quotation marks and what cannot be seen, which a spreadsheet may drop before a sign that
# makes a formula; also such a sign after what a spreadsheet of another country takes for the end
# of a cell (Excel parts CSV at semicolons where the comma is the decimal sign).
_CELL_ENDS = r"[,;|\t\r\n，；]"
_BEFORE = r"[^\S\t\r\n]|[\"'\u200b-\u200f\u2060\ufeff\x00-\x08]"
_FORMULA = re.compile(rf"(?:^|(?<={_CELL_ENDS}))(?=(?:{_BEFORE})*[=+\-@\t\r\n＝＋－＠﹢﹣﹦﹫−])")


def spreadsheet_safe(text: str) -> str:
    """A text that no spreadsheet takes for a formula: an apostrophe goes before such a start.

    >>> spreadsheet_safe("=1+1"), spreadsheet_safe("  @x"), spreadsheet_safe("Anna-Lena")
    ("'=1+1", "'  @x", 'Anna-Lena')
    >>> spreadsheet_safe("Ann;=1+1")
    "Ann;'=1+1"
    """
    return _FORMULA.sub("'", text)


@transaction.atomic
def export_gradebook(
    *, actor: Person, course: Course, exercises: Sequence[ExerciseRevision], unreleased: bool
) -> str:
    """The marks as CSV text with a byte order mark, so that spreadsheets read it as UTF-8."""
    columns = gradebook_columns(exercises)
    rows = gradebook_rows(course, columns, exercises, unreleased=unreleased)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([*FIRST_COLUMNS, *(spreadsheet_safe(c.heading) for c in columns)])
    for row in rows:
        enrolment = row.enrolment
        cells = [
            enrolment.person.display_name,
            enrolment.person.sign_in,
            enrolment.outside_id,
            enrolment.section.name if enrolment.section else "",
        ]
        points = ["" if p is None else f"{p:g}" for p in row.points]
        writer.writerow([*map(spreadsheet_safe, cells), *points])
    record_audit(
        actor=actor,
        action="export-marks",
        subject=course,
        course=course,
        details={
            "exercises": [str(revision) for revision in exercises],
            "unreleased": unreleased,
            "students": len(rows),
        },
    )
    return BOM + text.getvalue()


@transaction.atomic
def set_outside_ids(*, actor: Person, course: Course, ids: Mapping[str, str]) -> None:
    """What the gradebook calls each exercise, by key; for all revisions of it."""
    changed = {}
    for key, outside_id in ids.items():
        revisions = ExerciseRevision.objects.filter(course=course, key=key)
        if revisions.exclude(outside_id=outside_id).update(outside_id=outside_id):
            changed[key] = outside_id
    if changed:
        record_audit(
            actor=actor,
            action="set-outside-ids",
            subject=course,
            course=course,
            details={"identifiers": changed},
        )
