"""Nothing is computed inside a service's transaction: on SQLite it would stop every other write.

Moving eight students took half a minute, in which a tare at the bench was answered 503 three times.
"""

from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection

from tests.web.review.reports import TARGET, hand_in_plan, weigh
from workups.documents.variants import Variant
from workups.models import ReadingKind
from workups.services import assessments
from workups.services.bench import start_bench
from workups.services.door import admit_work
from workups.services.entries import ReadingValues, supply_readings
from workups.services.exercises import publish_revision
from workups.services.hand_ins import new_to_assess
from workups.services.moving import move_students, take_back_move
from workups.services.reports import assess_left_over, lock_readings, submit_report
from workups.services.self_checks import self_check
from workups.services.variants import add_variant, give_variant_to_student

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("few_draws")]


@pytest.fixture
def computed(monkeypatch):
    """For each computation how many transactions of the program are open around it."""
    open_around = []
    boundary = assessments.computing

    def watched(what, **how):
        open_around.append(len(connection.savepoint_ids))
        return boundary(what, **how)

    monkeypatch.setattr(assessments, "computing", watched)
    return open_around


def alone(computed):
    """Whether something was computed since, and nothing inside a transaction."""
    found = list(computed)
    computed.clear()
    return bool(found) and set(found) == {0}


def test_from_the_plan_to_the_report(work, student, ta, assignment, computed, monkeypatch):
    monkeypatch.setattr("workups.selectors.progress.ASSESSED_WITHIN", timedelta(0))
    hand_in_plan(work)
    assert alone(computed)
    self_check(actor=student, work=work)
    assert alone(computed)
    for go_on in (admit_work, start_bench):
        new_to_assess(work)
        go_on(actor=ta, work=work)
        assert alone(computed), go_on
    work.refresh_from_db()
    weigh(work, student, ("45.30", "51.62", "51.62"))
    lock_readings(actor=student, record=work.bench_record)
    assert alone(computed)
    submit_report(actor=student, work=work, explanation="Fine.")
    assert alone(computed)
    new_to_assess(work)
    assess_left_over(assignment=assignment)
    assert alone(computed)


def test_what_instructors_change(work, revision, instructor, computed):
    hand_in_plan(work)
    half = add_variant(
        actor=instructor, revision=revision, title="Half", variant=Variant(scale=0.5)
    )
    newer = publish_revision(
        actor=instructor,
        course=revision.course,
        key=revision.key,
        title="Newer",
        document=revision.document + "\n",
    )
    computed.clear()
    give_variant_to_student(actor=instructor, work=work, variant=half, reason="half")
    assert alone(computed)
    give_variant_to_student(actor=instructor, work=work, variant=None, reason="whole")
    assert alone(computed)
    (move,) = move_students(
        actor=instructor,
        assignment=work.assignment,
        revision=newer,
        works=[work],
        reason="a slip",
    )
    assert alone(computed)
    take_back_move(actor=instructor, move=move)
    assert alone(computed)


def test_what_is_supplied_after_an_accident(work, ta, computed):
    hand_in_plan(work)
    new_to_assess(work)
    computed.clear()
    value = ReadingValues(
        kind=ReadingKind.TARE, subject=TARGET, value=Decimal("45.30"), decimals=2, unit="g"
    )
    supply_readings(actor=ta, work=work, token=uuid4(), entries=[value], reason="spilled")
    assert alone(computed)
