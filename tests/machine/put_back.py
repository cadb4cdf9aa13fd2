"""Bugs of the past, put back in the place where each was mended, for the machine to find.

Each takes away what stands against it now and nothing else. What one who acts after another cannot
bring about is found elsewhere when it is put back: what two do at the same moment by `tests/races`
and the order of rows (`tests/row_order.py`); a computation inside a transaction by
`services/test_computing_alone.py`; what time and size tell by `web/test_nothing_learnt.py`; numbers
and dates out of reach by `web/test_bounds.py` and `tests/fuzz`; hashes without limit by
`web/accounts/test_sign_in.py` and `web/station`.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import pytest
from django import forms

from workups.chemistry.plan import PlanError
from workups.chemistry.steps import MissingFlask
from workups.documents.differences import differences
from workups.exercise.exercise import Exercise
from workups.models import Enrolment, Person, Role, Work
from workups.services.bench import join_bench
from workups.services.computing import CannotBeCarriedOut
from workups.web.bench.entry import BenchForm
from workups.web.fields import NumberField
from workups.web.step_forms import StepForm

Patch = Callable[[pytest.MonkeyPatch], None]


@dataclass(frozen=True)
class Bug:
    """`put_back` brings it about, `seen_as` is what the machine says of it.

    `rules` are those that have to do with it, and everybody is between `nearest` and `furthest` at
    first: by all the rules, from anywhere, some take hours to be found.
    """

    put_back: Patch
    seen_as: str
    rules: tuple[str, ...]
    furthest: str = "released"
    nearest: str = "draft"


def in_place_of(*names: str, by: Any) -> Patch:
    def patch(monkeypatch: pytest.MonkeyPatch) -> None:
        for name in names:
            monkeypatch.setattr(name, by)

    return patch


def nothing(*_args: Any, **_named: Any) -> None:
    """In place of what stands against the bug."""


def any_clock(device_at: datetime | None, offset_s: int | None, now: datetime) -> datetime | None:
    """A device's clock set right, wherever that leads."""
    if device_at is None or offset_s is None:
        return None
    return device_at + timedelta(seconds=offset_s)


def clocks_unbounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(BenchForm, "clean", forms.Form.clean)
    for module in ("models.bench",):
        monkeypatch.setattr(f"workups.{module}.set_right", any_clock)


@contextmanager
def only_what_plans_raise(_what: str, **_named: Any) -> Iterator[None]:
    """The boundary around the core as it was: all else goes through."""
    try:
        yield
    except (MissingFlask, PlanError) as problem:
        raise CannotBeCarriedOut(str(problem)) from problem


def in_range_only(field: NumberField, value: Any) -> None:
    forms.Field.validate(field, value)
    if value is not None and not (field.low or 0) <= value <= (field.high or 1e9):
        raise forms.ValidationError(field.range_in_words())


def join_by_code(*, actor: Person, work: Work, code: str) -> None:
    """Whoever knows the code is in."""
    partner = Work.objects.filter(bench_code=code).exclude(pk=work.pk).first()
    if partner is not None and partner.bench_record is not None:
        join_bench(actor=actor, work=work, record=partner.bench_record)


def differences_of_known_texts(before: Exercise, after: Exercise) -> Any:
    titles = {"summary", "background", "task", "cautions", "questions"}
    for name in vars(before.texts):
        if getattr(before.texts, name) != getattr(after.texts, name) and name not in titles:
            raise KeyError(name)
    return differences(before, after)


def is_a_student_of(instructor: Person, person: Person) -> bool:
    """Only what somebody is now counts."""
    own = Enrolment.objects.filter(person=instructor, role=Role.INSTRUCTOR).values("course")
    here = Enrolment.objects.filter(person=person)
    return not here.exclude(course__in=own).exclude(role=Role.STUDENT).exists()


SERVICES = "workups.services"
GOING_ON = ("goes_on", "accept", "lock", "report")
BUGS = {
    "1 a clock of the year 9999 is stored": Bug(
        clocks_unbounded,
        "OverflowError",
        ("record", "lock", "record_without_network", "replay"),
        "weighed",
    ),
    "2 a report is accepted between lock and assessment": Bug(
        in_place_of(f"{SERVICES}.review.require_assessed", by=nothing),
        "accepted while something is to be assessed",
        GOING_ON,
        "weighed",
    ),
    "3 what the core raises goes through": Bug(
        in_place_of(f"{SERVICES}.assessments.computing", by=only_what_plans_raise),
        "NotConserved",
        ("hand_in", "check_plan", "begin", "admit"),
        "handed in",
    ),
    "4 another variant leaves the assessment as it was": Bug(
        in_place_of(f"{SERVICES}.variants.new_to_assess", by=nothing),
        "assessed by another form",
        ("give_variant", "hand_in", "begin", "admit"),
        "handed in",
    ),
    "5 a mark stays on the revision that was left": Bug(
        in_place_of(f"{SERVICES}.moving._rest_marks_on", by=nothing),
        "assessed by another revision",
        ("publish_again", "move", "accept"),
        "accepted",
    ),
    "7 a number has more decimals than its column": Bug(
        lambda monkeypatch: monkeypatch.setattr(NumberField, "validate", in_range_only),
        "ValidationError",
        ("record", "record_without_network", "replay"),
        "at the bench",
    ),
    "8 a returned report takes results away": Bug(
        in_place_of(f"{SERVICES}.review.keep_results_out", by=nothing),
        "results that were out",
        ("return_report", "release", "accept"),
        nearest="reported",
    ),
    "8 who switches section leaves the work behind": Bug(
        in_place_of(f"{SERVICES}.courses.take_works_along", by=nothing),
        "left behind in the old section",
        ("bring_roster", "hand_in"),
        "handed in",
    ),
    "8 whoever reads a code off a label shares the record": Bug(
        in_place_of("workups.web.bench.partner_views.ask_to_share", by=join_by_code),
        "shares a record unasked",
        ("ask_to_share", "answer_share", "part", "begin", "hand_in"),
        "at the bench",
    ),
    "9 a new emergency text cannot be compared": Bug(
        in_place_of(
            "workups.web.authoring.change_views.differences", by=differences_of_known_texts
        ),
        "KeyError",
        ("publish_again", "move"),
        "draft",
    ),
    "10 a link for whoever is a student now": Bug(
        in_place_of("workups.web.courses.roster_views.may_be_invited", by=is_a_student_of),
        "a link for",
        ("bring_roster", "make_password_link"),
        "draft",
    ),
    "12 a roster renames people of another course": Bug(
        in_place_of(f"{SERVICES}.roster.compare.may_be_renamed", by=lambda *_: True),
        "is renamed",
        ("bring_roster", "make_password_link"),
        "draft",
    ),
    "13 a half-filled step keeps whatever was typed": Bug(
        lambda monkeypatch: monkeypatch.setattr(StepForm, "too_long", lambda _: []),
        "too much was stored",
        ("edit_plan", "check_plan", "hand_in"),
        "draft",
    ),
}
