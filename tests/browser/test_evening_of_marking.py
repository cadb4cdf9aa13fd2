"""An evening of marking by a new TA: signs in, finds the queue, works through every report.

Reports are generated as in the demo: simulated students, a third of them with a planned mistake,
slips at the bench as they come. 24 of them in the long run.
"""

import time
from dataclasses import dataclass
from statistics import median

import pytest
from django.urls import reverse

from tests.conftest import make_member
from tests.long import count
from workups.demo.reagents import fill_in_table
from workups.demo.records import write_record
from workups.documents import plan_to_data
from workups.invented_students import planning_mistakes, simulate_student
from workups.models import Review, Role, Work
from workups.selectors.holds import waits_for_a_word
from workups.services.bench import start_bench
from workups.services.door import clear_hold
from workups.services.planning import save_plan, submit_plan
from workups.services.reports import lock_readings, submit_report
from workups.services.works import start_work

REPORTS = count(3, 24)
# Beside other tests, on a machine that is busy with them, the short run rules out the worst only.
SHOWN_WITHIN_MS = count(1000, 300)
pytestmark = [pytest.mark.usefixtures("few_draws"), pytest.mark.timeout(600)]

NOTE_WHEN_PRESSED = """addEventListener("keydown", () => {
  sessionStorage.setItem("pressed", performance.timeOrigin + performance.now());
}, true);"""
MS_UNTIL_SHOWN = """() => new Promise(resolve => {
  const tell = () => {
    const paint = performance.getEntriesByName("first-contentful-paint")[0];
    if (!paint) return setTimeout(tell, 10);
    resolve(performance.timeOrigin + paint.startTime - sessionStorage.getItem("pressed"));
  };
  tell();
})"""
CHECKS = """() => [...document.querySelectorAll("section[id^='check-']")].map(section => ({
  name: section.id.slice(6),
  heading: section.querySelector("h3 .quiet").textContent,
  text: section.textContent,
  costs: [...section.querySelectorAll("[data-cost]")].map(e => Number(e.dataset.cost)),
  wrong: section.querySelectorAll("tbody .mark:not(.mark--done)").length,
  asked: section.querySelectorAll("tbody tr").length,
  notes: [...section.querySelectorAll(".note")].map(note => ({
    costs: !!note.nextElementSibling.querySelector("[data-cost]"),
    what: note.querySelector(".note__what").textContent.trim(),
    why: (note.querySelector("details p") || {textContent: ""}).textContent.trim(),
    source: (note.querySelector("details .quiet") || {textContent: ""}).textContent.trim(),
  })),
}))"""


@pytest.fixture
def one_evening(course, section, assignment, enrolment_of, ta, monkeypatch) -> list[Work]:
    """Reports of a section, handed in."""
    monkeypatch.setattr("workups.services.assessments.seed_for", lambda _: 1)
    mistakes = planning_mistakes(assignment.revision.to_core())
    works = []
    for number in range(REPORTS):
        person = make_member(course, f"student.no{number}", Role.STUDENT, section=section)
        work = start_work(assignment=assignment, enrolment=enrolment_of(person))
        key = sorted(mistakes)[number // 3 % len(mistakes)] if number % 3 == 2 else None
        hand_in(work, number, mistakes[key] if key else None, ta)
        works.append(work)
    return works


def hand_in(work: Work, number: int, plan, ta) -> None:
    made = simulate_student(work.revision.to_core(), 100 + number, plan=plan)
    fill_in_table(work, number)
    data = {"steps": plan_to_data(made.plan)}
    save_plan(actor=work.student, work=work, data=data, base_version=0, change="Wrote the plan")
    submit_plan(actor=work.student, work=work, base_version=1)
    if waits_for_a_word(work):
        clear_hold(actor=ta, work=work, reason="Talked through; done under my eyes.")
    record = start_bench(actor=work.student, work=work)
    write_record(record, work.student, made.readings)
    lock_readings(actor=work.student, record=record)
    submit_report(actor=work.student, work=work, explanation="Some was lost in the transfers.")


@dataclass
class Evening:
    """What the evening took: keys by report, how long each next page took to be shown, and how
    busy the machine was meanwhile."""

    keys: dict[str, int]
    waits_ms: list[float]
    busy: list[float]

    @property
    def stretch(self) -> float:
        return median(self.busy)


def test_a_new_ta_works_through_the_evening(new_page, one_evening, ta, course):
    page = new_page(None)
    page.add_init_script(NOTE_WHEN_PRESSED)
    find_the_queue(page)
    evening = work_through(page)
    assert len(evening.keys) == REPORTS
    assert set(Review.objects.values_list("state", flat=True)) == {Review.State.REVIEWED}
    assert max(evening.keys.values()) <= 2
    print(f"next shown after {median(evening.waits_ms):.0f} ms, {evening.stretch:.1f} x")  # noqa: T201
    assert median(evening.waits_ms) < SHOWN_WITHIN_MS * evening.stretch, evening.waits_ms


def stretch() -> float:
    """How much longer than alone this process takes for now: 1 on a machine with nothing to do."""
    wall, own = time.perf_counter(), time.process_time()
    while time.process_time() - own < 0.05:
        pass
    return max(1.0, (time.perf_counter() - wall) / (time.process_time() - own))


def find_the_queue(page) -> None:
    page.goto(reverse("sign-in"))
    page.get_by_label("Sign-in name").fill("tariq.assistant")
    page.get_by_label("Password").fill("correct horse")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name="Review").first.click()
    page.get_by_role("link", name="Begin with the first").wait_for()
    page.wait_for_load_state()  # the keys are listened to from then on


def work_through(page) -> Evening:
    """Read, accept, next: until the queue is empty. Straightforward ones take one key."""
    evening = Evening({}, [], [])
    press(page, "n", evening)
    while "/review/" in page.url and page.locator("h1").inner_text() != "Review":
        seen = page.locator("h1").inner_text()
        for check in page.evaluate(CHECKS):
            assert_defensible(check)
        press(page, "a", evening)
        evening.keys[seen] = evening.keys.get(seen, 0) + 1
        assert len(evening.keys) <= REPORTS
    return evening


def press(page, key: str, evening: Evening) -> None:
    with page.expect_navigation():
        page.keyboard.press(key)
    evening.waits_ms.append(page.evaluate(MS_UNTIL_SHOWN))
    evening.busy.append(stretch())


def assert_defensible(check: dict) -> None:
    """Points lost are all accounted for on the page, each with what happened, why and source."""
    points, out_of = (float(word) for word in check["heading"].split(" of "))
    lost = out_of - points
    if check["name"] == "reagent_table":
        assert check["asked"] > 0
        assert lost == pytest.approx(out_of * check["wrong"] / check["asked"], abs=0.06)
        return
    assert sum(check["costs"]) == pytest.approx(lost, abs=0.06), check
    for note in check["notes"]:
        if note["costs"]:
            assert len(note["what"]) > 20, check
            assert len(note["why"]) > 40, check
            assert len(note["source"]) > 5, check
