"""That rows taken out of their order are noticed."""

import pytest
from django.db import connection, transaction

from tests.row_order import Watched
from workups.models import Course, Enrolment, Section
from workups.services.holding import hold, hold_all

pytestmark = pytest.mark.skipif(
    connection.vendor != "postgresql", reason="SQLite has no locks of rows"
)


def test_a_row_held_or_written_out_of_order_is_noticed(
    course: Course, section: Section, other_section: Section, rows_taken: Watched
) -> None:
    with transaction.atomic():
        hold(course)
        hold_all([other_section, section])
        hold(course)
        Enrolment.objects.update(outside_id="")
    assert rows_taken.backwards == []
    with transaction.atomic():
        hold(other_section)
        hold(section)
        course.save()
    assert rows_taken.backwards == [
        f"section {section.pk} after section", f"course {course.pk} after section"
    ]
    rows_taken.backwards.clear()
