"""During the lab: who is at which step, and what waits for a TA's eyes."""

from uuid import uuid4

import pytest
from django.urls import reverse

from tests.entries import enter
from tests.web.review.reports import hand_in_plan
from workups.documents import step_to_data
from workups.models import BenchTick
from workups.selectors.door import lab_lines
from workups.services.bench import join_bench
from workups.services.entries import EntryOrigin, StepMark
from workups.services.reports import lock_readings


def lab_url(assignment):
    return reverse("show-lab", args=[assignment.public_id])


def mark_done(work, *step_ids):
    steps = {s.id: s for s in work.revision.to_core().model_plan.steps}
    for step_id in step_ids:
        enter(
            work.bench_record,
            EntryOrigin(by=work.student, client_token=uuid4()),
            StepMark(step_id, "done", step_to_data(steps[step_id])),
        )


def test_who_is_where(sign_in, ta, bench_work, classmates_work):
    mark_done(bench_work, "cool", "dilute")
    page = sign_in(ta).get(lab_url(bench_work.assignment)).content.decode()
    assert "2 of 17" in page
    assert "Extract" in page
    assert "not begun" in page
    assert page.index("Stina Student") < page.index("Sven Student")


def test_a_shake_with_gas_a_tare_and_a_gross_wait_for_a_tick(bench_work):
    mark_done(bench_work, "wash-bicarbonate", "tare", "weigh", "wash-water")
    (line,) = lab_lines(bench_work.assignment)
    assert [(w.kind, w.step_id) for w in line.waits] == [
        ("vented", "wash-bicarbonate"),
        ("tare", "tare"),
        ("gross", "weigh"),
    ]


def test_a_tick_is_given_with_one_tap(sign_in, ta, bench_work):
    mark_done(bench_work, "tare")
    client = sign_in(ta)
    assert "Tare seen" in client.get(lab_url(bench_work.assignment)).content.decode()
    url = reverse("tick-bench", args=[bench_work.public_id])
    response = client.post(url, {"kind": "tare", "step_id": "tare"})
    assert response.url == lab_url(bench_work.assignment)
    assert "Stina Student: tare seen." in client.get(response.url).content.decode()
    assert BenchTick.objects.get().by == ta
    assert not lab_lines(bench_work.assignment)[0].waits


def test_a_tick_on_a_double_click_is_one(sign_in, ta, bench_work):
    mark_done(bench_work, "tare")
    client, url = sign_in(ta), reverse("tick-bench", args=[bench_work.public_id])
    other = {"kind": "other", "remark": "goggles"}
    for sent in ({"kind": "tare", "step_id": "tare"},) * 2 + (other, other | {"remark": "gloves"}):
        client.post(url, sent)
    assert [(t.kind, t.remark) for t in BenchTick.objects.all()] == [
        ("tare", ""), ("other", "goggles"), ("other", "gloves")]


@pytest.mark.parametrize("sent", [{}, {"kind": "danced"}, {"kind": "tare", "step_id": "x" * 61}])
def test_a_tick_that_says_nothing_is_refused(sign_in, ta, bench_work, sent):
    url = reverse("tick-bench", args=[bench_work.public_id])
    page = sign_in(ta).post(url, sent, follow=True).content.decode()
    assert "Say what was seen" in page
    assert not BenchTick.objects.exists()


def test_no_tick_before_the_bench(sign_in, ta, work):
    url = reverse("tick-bench", args=[work.public_id])
    page = sign_in(ta).post(url, {"kind": "tare"}, follow=True).content.decode()
    assert "has not begun" in page


def test_the_live_part_is_the_same_list_without_the_page(sign_in, ta, bench_work):
    client = sign_in(ta)
    part = client.get(lab_url(bench_work.assignment), headers={"HX-Request": "true"})
    text = part.content.decode()
    assert "<html" not in text
    assert "Stina Student" in text
    assert 'hx-trigger="every 15s"' in client.get(lab_url(bench_work.assignment)).content.decode()


def test_partners_with_one_record_are_one_line_and_a_locked_record_says_so(
    bench_work, classmates_work, classmate
):
    hand_in_plan(classmates_work)
    join_bench(actor=classmate, work=classmates_work, record=bench_work.bench_record)
    (line,) = lab_lines(bench_work.assignment)
    assert line.names == "Stina Student, Sven Student"
    lock_readings(actor=classmate, record=bench_work.bench_record)
    assert lab_lines(bench_work.assignment)[0].state == "readings locked"
