"""Before readings are locked nothing shown to a student is computed from what is hidden.

Two exercises that differ in how far the reaction went are put under one and the same work in turn.
What a student is answered, page, live part, header and PDF, while drafting, after handing in, at
the bench and until release, has to be the same to the last byte. Whether a plan is held for safety
is decided by the real run: stages are compared where both plans are held for the same.
"""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from tests.grading.plans import any_plan
from tests.grading.variations import varied
from tests.long import IS_LONG, count, exercises
from tests.web.test_nothing_before_the_lock import weigh
from tests.web.walker import HTMX, is_html, walk_pages
from workups.chemistry.plan import START_FLASK, Cool, Plan
from workups.documents import (
    assessment_from_data,
    assessment_to_data,
    library_exercise,
    library_names,
    library_text,
    plan_to_data,
)
from workups.exercise.exercise import FeedbackPolicy
from workups.grading.rule import RULES
from workups.grading.visibility import (
    ComputedFromHidden,
    Moment,
    shown_checks,
    shown_steps,
)
from workups.models import ExerciseRevision, SelfCheck, Work
from workups.selectors.holds import open_holds
from workups.services.assessments import assess_plan_of
from workups.services.bench import start_bench
from workups.services.computing import CannotBeCarriedOut
from workups.services.exercises import AssignmentTerms, assign_revision, publish_revision
from workups.services.planning import save_plan, submit_plan
from workups.services.reports import lock_readings
from workups.services.self_checks import self_check, shown_of
from workups.services.works import start_work
from workups.sheets.content import FlaskLabels
from workups.sheets.flask_labels import flask_labels_html
from workups.web.reports.sheet_views import sheet_head, steps_to_label

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.several_in_one_transaction,
    pytest.mark.usefixtures("few_draws"),
    pytest.mark.timeout(count(600, 7200)),
]

NOON = datetime(2026, 11, 30, 12, tzinfo=UTC)
WITH_REACTION = tuple(n for n in library_names() if library_exercise(n).setup.reaction.products)
# Plans that are checked as drafts, and those that go all the way to the locked readings.
DRAFTS, TO_THE_END = count(8, 200), count(1, 6)
# Pages that say something of the plan; all others are walked with one plan.
ABOUT_THE_PLAN = ("build-plan", "submit-plan", "show-bench", "show-report", "show-work")
# Fresh in every answer: what a form is signed with, and the tokens that count a tap once.
_FRESH = re.compile(
    rb'name="csrfmiddlewaretoken" value="[^"]*"|"(X-CSRFToken|csrf_token)": "[^"]*"'
    rb"|csrftoken=\w+|[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}"
)
# Rows' numbers, which a rolled back try uses up on PostgreSQL.
_ROWS = re.compile(
    rb'(readings/|entries/\w+/|correct-|strike-|data-about="|data-slot="reading )\d+'
)
_CONVERSION = re.compile(r"conversion = \{[^}]*\}")
COOL = Plan((Cool(id="cool", flask=START_FLASK, to_C=20.0),))

Said = dict[str, bytes]
Ask = Callable[[Client, Work], Said]  # by a client that has just signed in


def with_conversion(text: str, low: float, nominal: float, high: float) -> str:
    """The exercise file with another conversion, and nothing else changed."""
    other, times = _CONVERSION.subn(
        f"conversion = {{ low = {low}, nominal = {nominal}, high = {high} }}", text
    )
    assert times == 1
    return other


def right_plans(name: str) -> list[Plan]:
    """The exercise's own route acidified, then harmless variations of it."""
    exercise = library_exercise(name)
    second = exercise.model_plan.steps[1]
    acid = next((m for m in exercise.setup.materials if m.startswith("hcl")), "water")
    sour = replace(second, material=acid) if hasattr(second, "material") else second
    right = [varied(exercise, seed)[0] for seed in range(TO_THE_END)]
    return [exercise.model_plan.replacing(sour), *right][:TO_THE_END]


def drafts(name: str) -> list[Plan]:
    """Whatever the form accepts: right routes with changes, and steps at random."""
    exercise = library_exercise(name)
    return [any_plan(exercise, seed) for seed in range(DRAFTS)]


@pytest.fixture
def begin(course, section, instructor, student, enrolment_of):
    """A library exercise given to the student's section, open for another week."""

    def given(name: str) -> Work:
        revision = publish_revision(
            actor=instructor, course=course, key=name, title=name, document=library_text(name)
        )
        terms = AssignmentTerms(
            opens_at=NOON - timedelta(days=1),
            plan_due=NOON + timedelta(days=2),
            report_due=NOON + timedelta(days=7),
            group_size=2,
        )
        assignment = assign_revision(
            actor=instructor, revision=revision, section=section, terms=terms
        )
        return start_work(assignment=assignment, enrolment=enrolment_of(student))

    return given


@contextmanager
def taken_back() -> Iterator[None]:
    """All that is written inside is rolled back, so that the next try meets the same rows."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def everything(client: Client, work: Work) -> Said:
    """What every page of the work and those it leads to answer, as page and as live part."""
    plans = work.plan_revisions.all()
    arguments: dict[str, list[object]] = {
        "course_id": [work.revision.course.public_id],
        "work_id": [work.public_id],
        "step_id": [step["id"] for step in plans[0].data["steps"]],
        "idea": ["portions", "pH"],
        "version": [plan.version for plan in plans],
        "attempt": [check.attempt for check in work.self_checks.all()],
    }
    mine = ("/work/", f"/courses/{work.revision.course.public_id}/work/")
    said = {}
    for url, page in walk_pages(
        client, arguments, per_kind=1, leave=lambda url: not url.startswith(mine)
    ):
        where = _ROWS.sub(rb"\1", url.encode()).decode()
        said[where] = plain(page)
        if is_html(page) and page.status_code == 200:
            said[f"{where} (live)"] = plain(client.get(url, headers=HTMX))
    assert any(url.endswith(".pdf") for url in said)
    return said


def of_a_draft(client: Client, work: Work) -> Said:
    """The self-check, the builder that repeats it, and what the labels of the flasks would say."""
    plan, urls = work.plan_revisions.get().to_core(), [
        reverse("build-plan", args=[work.public_id]),
        reverse("show-self-check", args=[work.public_id, 1]),
    ]
    labels = FlaskLabels(sheet_head(work), work.to_core(), plan, steps_to_label(work, plan))
    return {
        **{url: plain(client.get(url)) for url in urls},
        "labels": flask_labels_html(labels).encode(),
    }


def about_the_plan(client: Client, work: Work) -> Said:
    urls = [reverse(name, args=[work.public_id]) for name in ABOUT_THE_PLAN]
    urls.append(reverse("show-self-check", args=[work.public_id, 1]))
    return {url: plain(client.get(url)) for url in urls}


def plain(page: HttpResponse) -> bytes:
    """Status, headers and body without what is fresh in every answer; the length is that of the
    body before the rows' numbers are taken out of it."""
    assert page.status_code < 500
    body = b"".join(page.streaming_content) if page.streaming else page.content
    said = {name: value for name, value in page.headers.items() if name != "Content-Length"}
    headers = "\n".join(f"{name}: {value}" for name, value in said.items())
    return _ROWS.sub(rb"\1", _FRESH.sub(b"", f"{page.status_code}\n{headers}\n".encode() + body))


def told(
    work: Work, document: str, plan: Plan, ask: Ask, *, only_drafted: bool = False
) -> dict[str, Said]:
    """What is said of a plan at each stage; a stage after the draft is named with the holds.

    Nothing is said of a draft that cannot be carried out.
    """
    stages, student = {}, work.student

    def asked(mine: Work) -> Said:
        client = Client()
        client.force_login(student, backend="django.contrib.auth.backends.ModelBackend")
        return ask(client, mine)

    with taken_back():
        ExerciseRevision.objects.filter(pk=work.revision_id).update(document=document)
        mine = Work.objects.get(pk=work.pk)
        data = {"steps": plan_to_data(plan)}
        save_plan(actor=student, work=mine, data=data, base_version=0, change="Wrote it")
        try:
            self_check(actor=student, work=mine)
        except CannotBeCarriedOut:
            return stages
        stages["drafted"] = asked(mine)
        if only_drafted:
            return stages
        submit_plan(actor=student, work=mine, base_version=1)
        held = sorted({f.code for f in open_holds(mine)})
        stages[f"handed in, held for {held}"] = asked(mine)
        if not held:
            start_bench(actor=student, work=mine)
            weigh(mine, "45.30", "48.61", "48.61")
            stages["at the bench"] = asked(mine)
            lock_readings(actor=student, record=mine.bench_record)
            stages["readings locked"] = asked(Work.objects.get(pk=mine.pk))
    return stages


def differences(one: Said, other: Said) -> list[str]:
    """Addresses that were answered differently."""
    return sorted(url for url in one.keys() | other.keys() if one.get(url) != other.get(url))


@pytest.fixture
def compare(begin):
    """Where two exercises that differ in the hidden conversion answer differently, by stage.

    With how many plans there was something to compare.
    """

    def compared(
        name: str, plans: list[Plan], ask: Ask, *, only_drafted: bool = False
    ) -> tuple[list[str], int]:
        text, found, tried = library_text(name), [], 0
        other = with_conversion(text, 0.55, 0.72, 0.86)
        with time_machine.travel(NOON, tick=False):
            work = begin(name)
            for plan in plans:
                one = told(work, text, plan, ask, only_drafted=only_drafted)
                two = told(work, other, plan, ask, only_drafted=only_drafted)
                stages = one.keys() & two.keys()
                assert ("drafted" in one) == ("drafted" in two)
                tried += bool(stages)
                found += [
                    f"{stage}, {where}: {plan}"
                    for stage in stages
                    for where in differences(one[stage], two[stage])
                ]
        return found, tried

    return compared


@pytest.mark.parametrize("name", WITH_REACTION if IS_LONG else ["plain-ether"])
def test_no_page_sheet_or_live_part_depends_on_how_far_the_reaction_went(compare, name):
    """Cooling alone: the share of a known solvent in the product gave its mass away."""
    assert compare(name, [COOL], everything) == ([], 1)


@pytest.mark.parametrize("name", exercises(WITH_REACTION))
def test_from_draft_to_locked_readings_the_hidden_conversion_shows_nowhere(compare, name):
    assert compare(name, right_plans(name), about_the_plan) == ([], TO_THE_END)


@pytest.mark.usefixtures("expected_failures")
@pytest.mark.parametrize("name", exercises(WITH_REACTION))
def test_whatever_is_planned_a_self_check_does_not_depend_on_it(compare, name):
    found, tried = compare(name, drafts(name), of_a_draft, only_drafted=True)
    assert found == []
    assert tried > DRAFTS / 2


def test_a_self_check_kept_from_an_earlier_version_says_nothing_of_it_either(
    planned_work, student, sign_in
):
    """What was stored then was computed with the hidden numbers, and stays as it is."""
    hidden = assess_plan_of(planned_work, planned_work.plan_revisions.get().to_core())
    kept = SelfCheck(
        work=planned_work,
        plan_revision=planned_work.plan_revisions.get(),
        attempt=1,
        detail="all but the answer",
        assessment=assessment_to_data(hidden),
        by=student,
    )
    kept.save()
    page = reverse("show-self-check", args=[planned_work.public_id, 1])
    old = plain(sign_in(student).get(page))
    fresh = shown_of(kept, planned_work)
    assert fresh is not None
    assert fresh.public_numbers
    assert not assessment_from_data(kept.assessment).public_numbers
    assert b"<svg" in old


def test_a_held_plan_is_told_the_rule_and_step_and_no_number(planned_work, student, sign_in):
    """Bicarbonate on acid, stoppered and not vented: the gas is a number of the real run."""
    steps = [
        {**s, "swirl_open": False, "vent": False} if s["id"] == "wash-bicarbonate" else s
        for s in planned_work.plan_revisions.get().data["steps"]
    ]
    save_plan(
        actor=student, work=planned_work, data={"steps": steps}, base_version=1, change="Hasty"
    )
    submit_plan(actor=student, work=planned_work, base_version=2)
    holds = open_holds(planned_work)
    page = sign_in(student).get(reverse("show-bench", args=[planned_work.public_id])).content
    assert holds
    for hold in holds:
        assert RULES[hold.code].title in page.decode()
        assert reverse("show-rule", args=[hold.code]) in page.decode()
        assert hold.message not in page.decode()


@pytest.mark.parametrize("moment", [Moment.PLANNING, Moment.LOCKED])
def test_an_assessment_with_hidden_numbers_is_refused_before_release(planned_work, moment):
    hidden = assess_plan_of(planned_work, planned_work.plan_revisions.get().to_core())
    with pytest.raises(ComputedFromHidden):
        shown_checks(hidden, FeedbackPolicy(), moment)
    with pytest.raises(ComputedFromHidden):
        shown_steps(hidden, moment)
    assert shown_steps(hidden, Moment.RELEASED) == hidden.steps
