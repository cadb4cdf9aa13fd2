"""Before readings are locked no page, sheet, header or live part gives the result away.

A student who signs in walks everything that can be reached, at every stage of the work; then all
that was said is searched for the masses of the own plan's and the model plan's assessments, in
several units and every rounding, and for the model plan's own words.
"""

from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.conftest import make_member
from tests.entries import enter
from tests.long import IS_LONG, count
from tests.web.hidden_numbers import (
    MARK,
    given_away,
    hidden_values,
    mark_model_plan,
    numbers_in,
)
from tests.web.review.reports import put_out
from tests.web.walker import Seen, as_seen, walk
from workups.documents import (
    assessment_to_data,
    library_exercise,
    library_names,
    library_text,
    load_plan,
    plan_to_data,
)
from workups.models import Person, ReadingKind, Role, Section, Work
from workups.services.assessments import compute_assessment
from workups.services.bench import HoldIsOpen, join_bench, start_bench
from workups.services.door import clear_hold
from workups.services.entries import EntryOrigin, ReadingValues
from workups.services.exercises import assign_revision, publish_revision
from workups.services.planning import save_plan, submit_plan
from workups.services.reports import lock_readings, submit_report
from workups.services.self_checks import self_check
from workups.services.works import start_work

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("few_draws")]

# Of pages that differ only in a step, version or reading.
PER_KIND = count(2, 3)
PLANS = sorted((Path(__file__).parents[1] / "data" / "plans").glob("*.toml"))


@pytest.fixture
def begin(course, section, instructor, student, terms, enrolment_of):
    """Publish a library exercise whose own routes are marked, and give it to the section."""

    def publish(name: str) -> Work:
        revision = publish_revision(
            actor=instructor,
            course=course,
            key=name,
            title=name,
            document=mark_model_plan(library_text(name)),
        )
        assignment = assign_revision(
            actor=instructor, revision=revision, section=section, terms=terms
        )
        return start_work(assignment=assignment, enrolment=enrolment_of(student))

    return publish


@pytest.fixture
def say_nothing(sign_in):
    """Walk as a person, and fail where anything hidden was said; gives how many pages spoke."""

    def check(person: Person, work: Work) -> int:
        seen = walk(sign_in(person), arguments_of(work), PER_KIND)
        assert all(answer.status < 500 for answer in seen)
        assert told_by(seen, work) == []
        return sum(answer.status == 200 for answer in seen)

    return check


def told_by(seen: list[Seen], work: Work) -> list[str]:
    """What some answers give away, each with where.

    Not asked of the two pages that are the same for every exercise.
    """
    hidden, known = list(hidden_of(work)), known_numbers(work)
    return [
        f"{answer.where}: {told}"
        for answer in seen
        if not answer.where.startswith((reverse("show-method"), reverse("show-limits")))
        for told in (
            *given_away(answer.text, hidden, known),
            *([MARK] if MARK in answer.text else []),
        )
    ]


def arguments_of(work: Work) -> dict[str, list[object]]:
    plans = work.plan_revisions.all()
    steps = [step["id"] for step in plans[0].data["steps"]] if plans else []
    record = work.bench_record
    return {
        "course_id": [work.revision.course.public_id],
        "section_id": [work.assignment.section.public_id],
        "enrolment_id": [work.enrolment.public_id],
        "revision_id": [work.revision.public_id],
        "assignment_id": [work.assignment.public_id],
        "work_id": [work.public_id],
        "step_id": list(steps),
        "idea": ["portions", "pH"],
        "version": [plan.version for plan in plans],
        "attempt": [check.attempt for check in work.self_checks.all()],
        "reading_id": [reading.pk for reading in record.readings.all()] if record else [],
    }


def hidden_of(work: Work):
    """The hidden values of everything computed for this work, and of the model plan."""
    yield from hidden_values(assessment_to_data(compute_assessment(
        revision=work.revision, plan=None
    )))
    for made in (*work.snapshots.all(), *work.self_checks.all()):
        yield from hidden_values(made.assessment)


def known_numbers(work: Work) -> frozenset[str]:
    """What the exercise gives or says and what the student typed: no secret."""
    given = [
        amount
        for reagent in work.revision.to_core().setup.reaction.reagents
        for amount in (reagent.mass_g, reagent.volume_mL, reagent.amount_mmol)
        if amount is not None
    ]
    given += [amount * 1e3 for amount in given]  # in mg, as a field's length may be too
    typed = [
        value
        for plan in work.plan_revisions.all()
        for step in plan.data["steps"]
        for value in step.values()
        if isinstance(value, int | float)
    ]
    numbers = frozenset(f"{number:.{d}f}" for number in (*given, *typed) for d in (0, 1, 2))
    texts = work.revision.to_core().texts
    prose = " ".join(
        (texts.summary, texts.background, texts.task, *texts.cautions, *texts.questions)
    )
    return numbers | {number for number, _ in numbers_in(prose)}


def plan_of(work: Work, name: str) -> dict[str, object]:
    path = next(path for path in PLANS if path.stem == name)
    return {"steps": plan_to_data(load_plan(path.read_text(), work.revision.to_core()))}


def weigh(work: Work, *masses: str) -> None:
    target = work.revision.to_core().setup.targets[0].substance
    for kind, mass in zip(("tare", "gross", "gross"), masses, strict=True):
        enter(work.bench_record, EntryOrigin(by=work.student, client_token=uuid4()), ReadingValues(
                kind=ReadingKind(kind),
                subject=target,
                value=Decimal(mass),
                decimals=2,
                unit="g",
                readability=Decimal("0.01"),
                on_pan=["flask"],
            ))


def to_the_bench(work: Work, ta: Person) -> None:
    try:
        start_bench(actor=work.student, work=work)
    except HoldIsOpen:
        clear_hold(actor=ta, work=work, reason="Talked about.")
        start_bench(actor=work.student, work=work)


@pytest.mark.parametrize("name", library_names() if IS_LONG else ["too-much-vinegar"])
def test_at_every_stage_up_to_the_release(
    begin, say_nothing, name, student, ta, classmate, course, instructor, terms, enrolment_of
):
    """A second section shares the exercise, so that even a released result stays back."""
    work = begin(name)
    other = Section.objects.create(course=course, name="Friday C")
    make_member(course, "late.student", Role.STUDENT, section=other)
    assign_revision(actor=instructor, revision=work.revision, section=other, terms=terms)
    assert say_nothing(student, work) > 0

    own = {"steps": plan_to_data(library_exercise(name).model_plan)}
    save_plan(actor=student, work=work, data=own, base_version=0, change="Wrote the plan")
    self_check(actor=student, work=work)
    assert say_nothing(student, work) > 0

    submit_plan(actor=student, work=work, base_version=1)
    to_the_bench(work, ta)
    weigh(work, "45.30", "48.61", "48.61")
    assert say_nothing(student, work) > 0

    theirs = Work.objects.get(assignment=work.assignment, enrolment=enrolment_of(classmate))
    save_plan(actor=classmate, work=theirs, data=own, base_version=0, change="Wrote the plan")
    submit_plan(actor=classmate, work=theirs, base_version=1)
    join_bench(actor=classmate, work=theirs, record=work.bench_record)
    assert say_nothing(classmate, theirs) > 0

    lock_readings(actor=student, record=work.bench_record)
    submit_report(actor=student, work=work, explanation="A little was lost.")
    put_out(work)
    assert say_nothing(student, work) > 0


@pytest.mark.parametrize("plan", [path.stem for path in PLANS])
def test_whatever_the_self_check_says_of_a_planted_mistake(begin, sign_in, student, plan):
    work = begin("too-much-vinegar")
    save_plan(
        actor=student, work=work, data=plan_of(work, plan), base_version=0, change="Wrote it"
    )
    self_check(actor=student, work=work)
    client = sign_in(student)
    urls = [reverse("show-self-check", args=[work.public_id, 1])]
    urls += [reverse(name, args=[work.public_id]) for name in ("build-plan", "submit-plan")]
    seen = [as_seen(url, client.get(url)) for url in urls]
    assert [answer.status for answer in seen] == [200, 200, 200]
    assert told_by(seen, work) == []


def test_the_search_finds_it_all_once_it_is_released(begin, sign_in, student, ta):
    """The same walk after the release: had anything been shown before, it would have been found."""
    work = begin("too-much-vinegar")
    data = plan_of(work, "three-portions")
    save_plan(actor=student, work=work, data=data, base_version=0, change="Wrote it")
    submit_plan(actor=student, work=work, base_version=1)
    to_the_bench(work, ta)
    weigh(work, "45.30", "48.61", "48.61")
    lock_readings(actor=student, record=work.bench_record)
    put_out(work)
    past = timezone.now() - timedelta(minutes=1)
    work.assignment.plan_due = work.assignment.report_due = past
    work.assignment.save()
    seen = walk(sign_in(student), arguments_of(work))
    hidden = [h for h in hidden_of(work) if "band" in h.name]
    known = known_numbers(work)
    told = {answer.where for answer in seen if given_away(answer.text, hidden, known)}
    report = f"/work/{work.public_id}"
    assert {f"{report}/report/", f"{report}/yield-report.pdf"} <= told


@pytest.mark.parametrize(
    ("text", "is_told"),
    [
        ("about 6.1 g", True),
        ("6.123 g of it", True),
        ("6123\u00a0mg", True),
        ('{"mass": 6.12}', True),
        ("84.9 %", True),
        ("6,12 g", True),
        ("6 g", False),
        ("6.2 g", False),
        ("85 % of what is there", False),
        ('<rect x="6.12"/>', False),
        ("16.12 g and 6.125", False),
    ],
)
def test_a_number_gives_a_hidden_one_away_at_its_own_decimals(text, is_told):
    """6.1234 g of 7.21 g are 84.93 %."""
    band = {"nominal": 6.1234, "low": 5.5, "high": 6.8}
    expected = {"target": "hexyl_acetate", "theoretical_g": 7.21}
    expected |= {"class_band": band, "plan_band": band}
    hidden = hidden_values({"expected": [expected], "steps": []})
    assert bool(given_away(text, hidden)) is is_told
