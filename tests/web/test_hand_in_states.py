"""What is handed in is shown as it stands; nothing goes on from a state that forbids it.

The states and what leads from one to another: `workups/services/hand_ins.py`.
"""

from datetime import timedelta
from unittest.mock import Mock

import pytest
from django.urls import reverse

from tests.web.review.reports import hand_in_plan, weigh
from workups.chemistry.conservation import NotConserved
from workups.chemistry.speciation import NotConverged
from workups.documents import library_text, plan_to_data
from workups.documents.variants import Variant
from workups.models import AuditEntry, Review, SelfCheck
from workups.selectors.marks import newest_snapshot
from workups.services.exercises import assign_revision, publish_revision
from workups.services.planning import save_plan
from workups.services.reports import assess_left_over
from workups.services.variants import add_variant, give_variant_to_student
from workups.services.works import start_work

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("few_draws")]

# One of each family, as the core raises them or as Python does where the core has a hole.
RAISED = [
    NotConserved("water: an amount became negative (-3 mmol)"),
    NotConverged("the charge balance is still off by 0.2"),
    ZeroDivisionError("float division by zero"),
    ValueError("need at least one array"),
    IndexError("list index out of range"),
    TypeError("unsupported operand"),
    RuntimeWarning("overflow encountered in exp"),
    RecursionError("maximum recursion depth exceeded"),
    KeyError("brine"),
    MemoryError(),
]


def url_of(name, work):
    return reverse(name, args=[work.public_id])


@pytest.fixture(params=RAISED, ids=lambda error: type(error).__name__)
def stumbling(request, monkeypatch, expected_failures):
    """The core raises this, whatever it is asked to assess."""
    for name in ("assess", "_assess_plan", "_assess_publicly"):
        monkeypatch.setattr(
            f"workups.services.assessments.{name}", Mock(side_effect=request.param)
        )
    return request.param


def test_a_plan_is_handed_in_whatever_the_core_raises(
    sign_in, student, planned_work, stumbling, caplog
):
    response = sign_in(student).post(
        url_of("submit-plan", planned_work), {"version": 1}, follow=True
    )
    assert response.status_code == 200
    page = response.content.decode()
    assert "Your plan is handed in" in page
    assert "no mistake of the student" in page
    planned_work.refresh_from_db()
    assert planned_work.hand_in == "cannot be carried out"
    (token,) = {record.args[0] for record in caplog.records if record.exc_info and record.args}
    assert token in planned_work.hand_in_problem
    for word in (type(stumbling).__name__, *(str(a) for a in stumbling.args)):
        assert word not in page


def test_a_self_check_says_so_whatever_the_core_raises(sign_in, student, planned_work, stumbling):
    response = sign_in(student).post(url_of("self-check", planned_work), follow=True)
    assert response.status_code == 200
    assert "Your plan is saved. It could not be checked" in response.content.decode()
    assert not SelfCheck.objects.exists()


def test_a_plan_that_could_not_be_computed_goes_to_the_bench_once_a_ta_has_read_it(
    sign_in, student, ta, planned_work, monkeypatch, expected_failures
):
    with monkeypatch.context() as broken:
        broken.setattr(
            "workups.services.assessments._assess_plan", Mock(side_effect=NotConserved("water"))
        )
        sign_in(student).post(url_of("submit-plan", planned_work), {"version": 1})
        page = sign_in(student).post(url_of("start-bench", planned_work), follow=True)
        assert page.status_code == 200
        assert "waits for your TA" in page.content.decode()
        door = reverse("show-door", args=[planned_work.assignment.public_id])
        listed = sign_in(ta).get(door).content.decode()
        assert "not checked" in listed
        sign_in(ta).post(url_of("admit-work", planned_work), {"admitted": "yes"})
        planned_work.refresh_from_db()
        assert planned_work.admitted_at is None
        read = {"reason": "Read line by line.", "admit": "on", "seen": 2}
        sign_in(ta).post(url_of("clear-hold", planned_work), read)
        sign_in(student).post(url_of("start-bench", planned_work))
    planned_work.refresh_from_db()
    assert planned_work.admitted_by == ta
    assert planned_work.bench_record is not None
    logged = AuditEntry.objects.get(action="clear-hold")
    assert logged.details["problem"] == planned_work.hand_in_problem != ""


def test_readings_are_locked_whatever_the_core_raises(
    sign_in, student, ta, bench_work, monkeypatch, expected_failures
):
    """Nothing is accepted on it, and once the program is mended it is assessed."""
    weigh(bench_work, student, ("45.30", "51.62", "51.62"))
    broken = Mock(side_effect=NotConserved("water"))
    with monkeypatch.context() as stumbles:
        stumbles.setattr("workups.services.assessments.assess", broken)
        stumbles.setattr("workups.services.assessments._assess_plan", broken)
        page = sign_in(student).post(url_of("lock-readings", bench_work), follow=True)
        assert "Your readings are stored" in page.content.decode()
        page = sign_in(student).post(
            url_of("submit-report", bench_work), {"explanation": "Fine."}, follow=True
        )
        assert "Your report is handed in" in page.content.decode()
        page = sign_in(ta).get(url_of("review-report", bench_work)).content.decode()
        assert "could not be assessed" in page
        assert "Accept," not in page
        page = sign_in(ta).post(url_of("accept-report", bench_work), follow=True)
        assert "no mark can rest on it" in page.content.decode()
    assert Review.objects.get(work=bench_work).state == Review.State.WAITING
    assess_left_over(assignment=bench_work.assignment, failed_too=True)
    bench_work.refresh_from_db()
    assert bench_work.is_assessed
    assert newest_snapshot(bench_work).readings is not None
    sign_in(ta).post(url_of("accept-report", bench_work))
    assert Review.objects.get(work=bench_work).state == Review.State.REVIEWED


@pytest.fixture
def cut_short(sign_in, student, bench_work, monkeypatch):
    """The program is killed between the lock and its assessment; 0.10 g was weighed."""
    weigh(bench_work, student, ("45.30", "45.40", "45.40"))
    with monkeypatch.context() as killed:
        killed.setattr("workups.services.assessments.assess", Mock(side_effect=SystemExit))
        killed.setattr("workups.services.assessments._assess_plan", Mock(side_effect=SystemExit))
        with pytest.raises(SystemExit):
            sign_in(student).post(url_of("lock-readings", bench_work))
    bench_work.refresh_from_db()
    return bench_work


def test_a_report_between_lock_and_assessment_is_not_accepted(sign_in, ta, cut_short):
    """The plan alone has ten of ten for yield."""
    client = sign_in(ta)
    queue = client.get(reverse("review-queue", args=[cut_short.revision.course.public_id]))
    assert "being assessed" in queue.content.decode()
    assert '<span class="mark">no mass on record' not in queue.content.decode()
    page = client.get(url_of("review-report", cut_short)).content.decode()
    assert "Accept," not in page
    assert "not assessed yet" in page
    client.post(url_of("accept-report", cut_short))
    assert Review.objects.get(work=cut_short).state == Review.State.WAITING
    data = {"check_name": "yield", "points": "3", "reason": "Seen."}
    page = client.post(url_of("adjust-points", cut_short), data).content.decode()
    assert "being assessed" in page
    assert not Review.objects.get(work=cut_short).adjustments.exists()


@pytest.mark.parametrize("state", ["waiting", "in review", "returned", "reviewed", "released"])
def test_what_was_cut_short_is_assessed_whatever_state_its_review_is_in(
    cut_short, assignment, ta, monkeypatch, state
):
    Review.objects.filter(work=cut_short).update(
        state=state, reviewer=ta, snapshot=newest_snapshot(cut_short)
    )
    monkeypatch.setattr("workups.selectors.progress.ASSESSED_WITHIN", timedelta(0))
    assert [work.pk for work in assess_left_over(assignment=assignment)] == [cut_short.pk]
    assert newest_snapshot(cut_short).readings is not None
    # Accepted on the plan alone: it waits for somebody's eyes again.
    now = Review.objects.get(work=cut_short).state
    assert now == ("waiting" if state == "reviewed" else state)
    assert assess_left_over(assignment=assignment) == []


def test_an_accepted_report_with_something_unassessed_in_it_is_not_released(
    sign_in, ta, cut_short, assignment
):
    Review.objects.filter(work=cut_short).update(
        state="reviewed", reviewer=ta, snapshot=newest_snapshot(cut_short)
    )
    url = reverse("release-section", args=[assignment.public_id])
    page = sign_in(ta).post(url, follow=True).content.decode()
    assert Review.objects.get(work=cut_short).state == Review.State.REVIEWED
    assert "left where it stood" in page


@pytest.fixture
def fifth(revision, instructor):
    """The exercise at a fifth of its scale, for which the lab has a smaller funnel."""
    return add_variant(
        actor=instructor, revision=revision, title="A fifth", variant=Variant(scale=0.2)
    )


def test_another_form_of_the_exercise_is_held_as_it_is(
    sign_in, student, ta, work, instructor, fifth
):
    """The plan of the whole scale overfills the small funnel: what was found in it before is no
    word about that, and no TA's word either."""
    hand_in_plan(work)
    sign_in(ta).post(url_of("admit-work", work), {"admitted": "yes"})
    give_variant_to_student(actor=instructor, work=work, variant=fifth, reason="less acid left")
    page = sign_in(student).get(url_of("show-bench", work)).content.decode()
    assert "Safety hold" in page
    sign_in(student).post(url_of("start-bench", work))
    work.refresh_from_db()
    assert work.bench_record is None
    sign_in(ta).post(url_of("clear-hold", work), {"reason": "Small portions.", "seen": 2})
    sign_in(student).post(url_of("start-bench", work))
    work.refresh_from_db()
    assert work.bench_record is not None


def test_a_word_on_one_form_of_the_exercise_is_none_on_another(
    sign_in, student, ta, work, instructor, fifth, revision
):
    tenth = add_variant(
        actor=instructor, revision=revision, title="A tenth", variant=Variant(scale=0.1)
    )
    hand_in_plan(work)
    give_variant_to_student(actor=instructor, work=work, variant=fifth, reason="less acid left")
    sign_in(ta).post(url_of("clear-hold", work), {"reason": "Small portions.", "seen": 2})
    give_variant_to_student(actor=instructor, work=work, variant=tenth, reason="even less")
    sign_in(student).post(url_of("start-bench", work))
    work.refresh_from_db()
    assert work.bench_record is None


def test_the_tenth_of_a_millilitre_that_the_core_cannot_carry_out_is_no_server_error(
    sign_in, student, course, enrolment_of, instructor, terms, section, monkeypatch,
    expected_failures,
):
    """A wash of the smallest volume that the form takes, with a layer that is slow to leave."""
    monkeypatch.setattr("workups.services.assessments.DRAWS", 300)
    slow = publish_revision(
        actor=instructor,
        course=course,
        key="slow-to-leave",
        title="Slow to leave",
        document=library_text("slow-to-leave"),
    )
    given = assign_revision(actor=instructor, revision=slow, section=section, terms=terms)
    work = start_work(assignment=given, enrolment=enrolment_of(student))
    steps = plan_to_data(slow.to_core().model_plan)
    for step in steps:
        if step["verb"] == "wash":
            step["volume_mL"] = 0.1
    save_plan(actor=student, work=work, data={"steps": steps}, base_version=0, change="Wrote")
    client = sign_in(student)
    for name, data in (("self-check", {}), ("submit-plan", {"version": 1}), ("start-bench", {})):
        assert client.post(url_of(name, work), data, follow=True).status_code == 200, name


