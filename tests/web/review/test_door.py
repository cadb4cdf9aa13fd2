"""The door list: ready, missing, held; a hold cleared with a reason; one tap to admit."""

import re
from unittest.mock import Mock

import pytest
from django.urls import reverse

from tests.web.review.reports import hand_in_plan
from workups.models import AuditEntry, HoldClearance
from workups.selectors.door import HELD, MISSING, READY, door_lines
from workups.selectors.plans import submitted_plan
from workups.services.bench import start_bench
from workups.services.courses import set_archived
from workups.services.planning import save_plan, submit_plan


def door_url(assignment):
    return reverse("show-door", args=[assignment.public_id])


def url_of(name, work):
    return reverse(name, args=[work.public_id])


def test_the_list_tells_ready_missing_and_held_apart(
    sign_in, ta, assignment, held_work, classmates_work, new_work
):
    hand_in_plan(new_work("rea.ready"))
    assert [line.state for line in door_lines(assignment)] == [HELD, MISSING, READY]
    page = sign_in(ta).get(door_url(assignment)).content.decode()
    assert "held for safety" in page
    assert "missing" in page
    assert "ready" in page
    assert page.index("Stina Student") < page.index("Sven Student") < page.index("Rea Ready")


def test_a_ready_student_is_admitted_with_one_tap_and_it_can_be_taken_back(
    sign_in, ta, assignment, submitted_work
):
    client = sign_in(ta)
    response = client.post(url_of("admit-work", submitted_work), {"admitted": "yes"})
    assert response.url == door_url(assignment)
    submitted_work.refresh_from_db()
    assert submitted_work.admitted_by == ta
    first = submitted_work.admitted_at
    client.post(url_of("admit-work", submitted_work), {"admitted": "yes"})
    submitted_work.refresh_from_db()
    assert submitted_work.admitted_at == first
    page = client.get(door_url(assignment)).content.decode()
    assert "Tariq Assistant" in page
    assert "Stina Student is admitted." in page
    response = client.post(url_of("admit-work", submitted_work), {"admitted": "no"})
    assert response.url == f"{door_url(assignment)}#work-{submitted_work.bench_code}"
    submitted_work.refresh_from_db()
    assert submitted_work.admitted_at is None
    logged = AuditEntry.objects.filter(object_id=str(submitted_work.public_id))
    assert {"admit", "take-back-admission"} <= set(logged.values_list("action", flat=True))


def test_a_held_plan_is_admitted_only_when_the_hold_is_cleared(sign_in, ta, held_work):
    client = sign_in(ta)
    url = url_of("admit-work", held_work)
    page = client.post(url, {"admitted": "yes"}, follow=True).content.decode()
    assert "Clear it first, with a reason" in page
    held_work.refresh_from_db()
    assert held_work.admitted_at is None


def test_the_plan_is_read_at_the_door_with_its_holds_at_their_steps(sign_in, ta, held_work):
    client = sign_in(ta)
    assert url_of("read-plan", held_work) in client.get(
        door_url(held_work.assignment)
    ).content.decode()
    page = client.get(url_of("read-plan", held_work)).content.decode()
    steps = [part.split("</li>")[0] for part in page.split('<li class="step">')[1:]]
    assert len(steps) == len(submitted_plan(held_work).to_core().steps)
    held = [step for step in steps if "note--hold" in step]
    assert held
    assert all("carbonate" in step for step in held)
    assert "Clear and admit" in page


def test_where_no_plan_is_handed_in_the_page_says_so(sign_in, ta, work):
    page = sign_in(ta).get(url_of("read-plan", work)).content.decode()
    assert "No plan is handed in yet" in page


def test_a_hold_is_cleared_with_a_reason_and_the_student_can_begin(sign_in, ta, held_work):
    client = sign_in(ta)
    data = {"reason": "Told to swirl open first; watched.", "admit": "on"}
    response = client.post(url_of("clear-hold", held_work), data)
    assert response.url == door_url(held_work.assignment)
    assert HoldClearance.objects.get().reason == data["reason"]
    held_work.refresh_from_db()
    assert held_work.admitted_by == ta
    assert "hold cleared by Tariq Assistant" in client.get(response.url).content.decode()
    assert start_bench(actor=held_work.student, work=held_work)
    entry = AuditEntry.objects.get(action="clear-hold")
    assert entry.details["reason"] == data["reason"]
    assert entry.details["holds"]


def test_clearing_twice_says_so(sign_in, ta, held_work):
    client = sign_in(ta)
    client.post(url_of("clear-hold", held_work), {"reason": "Seen."})
    again = client.post(url_of("clear-hold", held_work), {"reason": "Seen."}, follow=True)
    assert "not held any more" in again.content.decode()
    assert HoldClearance.objects.count() == 1


@pytest.mark.parametrize("reason", ["", "   ", "x" * 1001])
def test_a_hold_is_not_cleared_without_a_reason(sign_in, ta, held_work, reason):
    response = sign_in(ta).post(url_of("clear-hold", held_work), {"reason": reason, "admit": "on"})
    assert response.status_code == 200
    page = response.content.decode()
    assert "field--wrong" in page
    assert reason.strip() in page
    assert not HoldClearance.objects.exists()


def test_a_plan_that_cannot_be_carried_out_waits_for_a_word(sign_in, ta, work, assignment):
    """The brine is discarded, but no step has made its flask."""
    hand_in_plan(work, lambda plan: plan.without("wash-brine"))
    (line,) = door_lines(assignment)
    assert line.state == HELD
    assert line.holds
    assert not line.problem


def test_a_plan_in_which_nothing_could_be_found_is_marked(
    sign_in, ta, work, assignment, monkeypatch, expected_failures
):
    monkeypatch.setattr(
        "workups.services.assessments._assess_plan", Mock(side_effect=ArithmeticError("not ours"))
    )
    hand_in_plan(work)
    (line,) = door_lines(assignment)
    assert (line.state, line.holds) == (HELD, ())
    page = sign_in(ta).get(door_url(assignment)).content.decode()
    assert "not checked" in page
    assert line.problem.split()[-1] in page  # the token for the administrator
    assert "not ours" not in page


def test_without_a_plan_nobody_is_admitted(sign_in, ta, work):
    page = sign_in(ta).post(url_of("admit-work", work), {"admitted": "yes"}, follow=True)
    assert "There is no plan yet" in page.content.decode()


@pytest.mark.parametrize("sent", [{}, {"admitted": "maybe"}])
def test_an_admission_that_says_nothing_changes_nothing(sign_in, ta, submitted_work, sent):
    response = sign_in(ta).post(url_of("admit-work", submitted_work), sent, follow=True)
    assert "Say whether" in response.content.decode()
    submitted_work.refresh_from_db()
    assert submitted_work.admitted_at is None


def test_an_archived_course_admits_nobody(sign_in, instructor, submitted_work, course):
    set_archived(actor=instructor, course=course, archived=True)
    client = sign_in(instructor)
    assert client.get(door_url(submitted_work.assignment)).status_code == 200
    assert client.post(url_of("admit-work", submitted_work), {"admitted": "yes"}).status_code == 403


def test_an_empty_section_says_what_comes_next(sign_in, ta, assignment):
    assert "Students come with the roster" in sign_in(ta).get(
        door_url(assignment)
    ).content.decode()


@pytest.mark.parametrize("name", ["show-door", "show-lab"])
def test_section_pages_are_for_teaching_staff_of_the_section(
    client, sign_in, leads_to_sign_in, assignment, instructor, student, stockroom, outsider, ta,
    other_section, name,
):
    url = reverse(name, args=[assignment.public_id])
    assert leads_to_sign_in(url)
    assert sign_in(instructor).get(url).status_code == 200
    for person, status in ((student, 403), (stockroom, 403), (outsider, 404)):
        assert sign_in(person).get(url).status_code == status
    assert sign_in(ta).post(url).status_code == 405
    assignment.section = other_section
    assignment.save()
    assert sign_in(ta).get(url).status_code == 403


def test_a_hold_of_a_plan_that_the_ta_has_not_seen_is_not_cleared(sign_in, ta, held_work):
    """The student hands in another one, held as well, while the page is open."""
    client, student = sign_in(ta), held_work.student
    page = client.get(url_of("read-plan", held_work)).content.decode()
    seen = re.search(r'name="seen" value="(\d+)"', page).group(1)
    newest = submitted_plan(held_work)
    data = {"steps": newest.data["steps"][:-1]}
    save_plan(
        actor=student,
        work=held_work,
        data=data,
        base_version=newest.version,
        change="Left out the last step",
    )
    submit_plan(actor=student, work=held_work, base_version=newest.version + 1)
    sent = {"reason": "Watched.", "admit": "on", "seen": seen}
    response = client.post(url_of("clear-hold", held_work), sent, follow=True)
    assert "has handed in another plan" in response.content.decode()
    held_work.refresh_from_db()
    assert held_work.admitted_at is None
    assert not HoldClearance.objects.exists()
    newer = str(submitted_plan(held_work).version)
    client.post(url_of("clear-hold", held_work), sent | {"seen": newer})
    assert HoldClearance.objects.get().plan_revision == submitted_plan(held_work)


@pytest.mark.parametrize("name", ["admit-work", "clear-hold", "tick-bench"])
def test_what_is_done_at_the_door_is_done_by_teaching_staff(
    client, sign_in, leads_to_sign_in, work, student, classmate, stockroom, outsider, ta,
    other_section, name,
):
    url = url_of(name, work)
    assert leads_to_sign_in(url, "post")
    for person, status in ((student, 403), (classmate, 403), (stockroom, 403), (outsider, 404)):
        assert sign_in(person).post(url).status_code == status
    assert sign_in(ta).get(url).status_code == 405
    work.assignment.section = other_section
    work.assignment.save()
    assert sign_in(ta).post(url).status_code == 403
