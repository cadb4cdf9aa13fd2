"""The bench without a network, in a real browser on a cable that can be pulled.

The device's clock is an hour slow. No reading may be lost or doubled, and the order is kept.
"""

from datetime import timedelta
from decimal import Decimal
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Error, expect

from tests.browser.cable import Cable
from tests.browser.conftest import session_cookie
from tests.browser.server import Server, wait_until
from tests.entries import enter
from workups.models import BenchStep, Reading, ReadingKind
from workups.selectors.bench import standing_readings, step_entries
from workups.selectors.plans import current_plan
from workups.services.bench import close_record, join_bench
from workups.services.entries import (
    Correction,
    EntryOrigin,
    ReadingValues,
    StepMark,
    TokenBelongsElsewhere,
)
from workups.web.bench import entry_views

TARGET = "hexyl_acetate"
PHONE = {"width": 360, "height": 740}
pytestmark = pytest.mark.timeout(90)


def bench_url(work):
    return reverse("show-bench", args=[work.public_id])


@pytest.fixture
def cable(live_server):
    made = Cable(urlsplit(live_server.url).port)
    yield made
    made.close()


class Device:
    """A browser whose network, tab and clock can fail. Signed in as one person."""

    def __init__(self, browser, cable, person, slow_by=timedelta(0)):
        self.cable = cable
        self.context = browser.new_context(
            base_url=cable.url, locale="en-GB", viewport=PHONE, timezone_id="UTC"
        )
        if slow_by:
            self.context.clock.install(time=timezone.now() - slow_by)
        self.context.add_cookies([session_cookie(person, cable.url)])
        self.page = self.new_tab()

    def new_tab(self):
        page = self.context.new_page()
        page.set_default_timeout(60_000)
        return page

    def open_bench(self, work):
        self.page.goto(bench_url(work))
        kept = """async (url) => !!(await caches.match(url + "offline/"))
                  && !!navigator.serviceWorker.controller"""
        wait_until(lambda: self.page.evaluate(kept, bench_url(work)))

    def lose_network(self):
        self.cable.cut()
        self.context.set_offline(True)

    def get_network_back(self):
        self.cable.mend()
        self.context.set_offline(False)

    def kill_tab(self):
        """The tab's process dies, as when the system needs its memory."""
        with pytest.raises(Error, match="crash"):
            self.page.goto("chrome://crash")
        self.page.close()

    def weigh(self, kind, mass):
        page = self.page
        self.go_to("rest")
        page.get_by_label(f"{kind}:").check()
        page.get_by_label("Balance shows, g").fill(mass)
        page.get_by_role("button", name="Record this reading").click()
        expect(page.get_by_label("Balance shows, g")).to_have_value("")

    def go_to(self, place):
        """By the list, which needs no network."""
        if self.page.locator(f"[data-shown-at~='{place}']").first.is_visible():
            return
        self.page.locator("#bench-list > summary").click()
        self.page.locator(f"#bench-list a[data-to='{place}']").click()

    def says(self, words):
        expect(self.page.locator("#bench-queue")).to_contain_text(words, timeout=20_000)


@pytest.fixture
def device(browser, cable, student):
    made = Device(browser, cable, student, slow_by=timedelta(hours=1))
    yield made
    made.context.close()


@pytest.fixture
def shared_work(bench_work, classmates_work, classmate):
    join_bench(actor=classmate, work=classmates_work, record=bench_work.bench_record)
    return bench_work


def weighing(mass, kind="tare"):
    return ReadingValues(
        kind=ReadingKind(kind),
        subject=TARGET,
        value=Decimal(mass),
        decimals=2,
        unit="g",
        readability=Decimal("0.01"),
        on_pan=["flask"],
    )


def origin(person):
    return EntryOrigin(by=person, client_token=uuid4())


def masses(work):
    found = [r for r in standing_readings(work.bench_record) if r.subject == TARGET]
    return [(r.kind, r.shown_value) for r in found if r.kind in ("tare", "gross")]


def record_without_network(device, work, tare):
    """A step, two weighings, a drying agent, a step that went otherwise, and a correction."""
    page = device.page
    page.get_by_role("button", name="Done as planned, Cool").click()
    device.says("1 step waiting to be sent")
    device.weigh("gross", "51.24")
    device.weigh("gross", "51.23")
    device.says("2 readings and 1 step waiting to be sent, saved on this device")
    page.goto(reverse("record-entry", args=[work.public_id, "drying", "dry"]))
    drying = page.locator("#drying-dry")
    drying.get_by_label("Drying agent used in all, g").fill("3.5")
    drying.get_by_label("free-flowing").check()
    drying.get_by_role("button", name="Record").click()
    device.says("3 readings and 1 step")
    page.goto(reverse("record-entry", args=[work.public_id, "change", "wash-water"]))
    wash = page.locator("#change-wash-water")
    wash.get_by_label("Volume of each portion, mL").fill("30")
    wash.get_by_role("button", name="Record what was done").click()
    device.says("3 readings and 2 steps")
    page.goto(reverse("record-entry", args=[work.public_id, "correct", tare.pk]))
    mend = page.locator(f"#correct-{tare.pk}")
    mend.get_by_label("Balance shows, g").fill("45.33")
    mend.get_by_label("Why is it corrected").fill("misread")
    mend.get_by_role("button", name="Record the correction").click()
    device.says("4 readings and 2 steps")


def partner_says_otherwise(work, partner, tare):
    """The partner corrects the same reading and marks the same step in another way."""
    enter(tare.record, origin(partner), Correction(tare, weighing("45.30"), "typing slip"))
    record = work.bench_record
    planned = next(s for s in record.plan_revision.data["steps"] if s["id"] == "wash-water")
    enter(record, origin(partner), StepMark("wash-water", "skipped", planned))


def test_nothing_is_lost_or_doubled_and_conflicts_are_shown(
    device, shared_work, student, classmate
):
    record = shared_work.bench_record
    tare = enter(record, origin(student), weighing("45.31"))
    began = timezone.now()
    device.open_bench(shared_work)
    device.lose_network()
    record_without_network(device, shared_work, tare)
    device.kill_tab()
    device.context.clock.fast_forward("20:00")
    partner_says_otherwise(shared_work, classmate, tare)

    device.page = page = device.new_tab()
    page.goto(bench_url(shared_work))
    device.says("4 readings and 2 steps waiting to be sent")
    device.says("No network: this page is as of")
    device.weigh("gross", "51.22")
    device.says("5 readings and 2 steps")
    assert Reading.objects.filter(by=student).count() == 1

    device.get_network_back()
    device.says("2 entries need your decision")
    device.says("Meanwhile in the record: Tare 45.30 g (typing slip), Sven Student")
    device.says("Meanwhile in the record: skipped, Sven Student")
    expect(page.locator(".by-difference")).to_contain_text("5.93 g (mean of the last 3")
    question = page.locator(".note", has_text="Tare 45.30 g")
    question.get_by_role("button", name="Put mine in its place").click()
    device.says("1 entry needs your decision")
    page.get_by_role("button", name="Keep the record's, drop mine").click()
    device.says("Everything you recorded is saved on the server.")

    assert masses(shared_work) == [
        ("tare", "45.33 g"),
        ("gross", "51.24 g"),
        ("gross", "51.23 g"),
        ("gross", "51.22 g"),
    ]
    assert {i: e.mark for i, e in step_entries(record).items()} == {
        "cool": "done",
        "wash-water": "skipped",
    }
    drying = {r.kind: r.shown_value for r in standing_readings(record) if r.step_id == "dry"}
    assert drying == {"agent mass": "3.5 g", "agent look": "free-flowing"}
    mine = Reading.objects.filter(by=student, device_at__isnull=False).order_by("pk")
    assert mine.count() == 6
    for reading in mine:
        # The device's clock is an hour behind; what it adds to it puts that right.
        assert reading.device_at < began - timedelta(minutes=35)
        assert abs(reading.made_at - began) < timedelta(minutes=5)


def test_a_lost_answer_does_not_double_an_entry(device, bench_work):
    device.open_bench(bench_work)
    device.cable.swallow_answers()
    device.go_to("rest")
    device.page.get_by_label("tare:").check()
    device.page.get_by_label("Balance shows, g").fill("45.30")
    device.page.get_by_role("button", name="Record this reading").click()
    wait_until(lambda: Reading.objects.count() == 1)
    device.kill_tab()
    device.cable.mend()
    device.page = device.new_tab()
    device.page.goto(bench_url(bench_work))
    device.says("Everything you recorded is saved on the server.")
    assert masses(bench_work) == [("tare", "45.30 g")]


def test_a_record_locked_meanwhile_keeps_the_entry_and_asks(device, bench_work, ta):
    device.open_bench(bench_work)
    device.lose_network()
    device.weigh("tare", "45.30")
    close_record(actor=ta, record=bench_work.bench_record)
    device.get_network_back()
    device.says("The readings were locked by Tariq Assistant")
    device.page.reload()
    device.says("1 entry needs your decision")
    device.says("45.30")
    assert not Reading.objects.exists()
    bench_work.bench_record.locked_at = None
    bench_work.bench_record.save()
    device.page.get_by_role("button", name="Try again").click()
    device.says("Everything you recorded is saved on the server.")
    assert masses(bench_work) == [("tare", "45.30 g")]


def test_a_reading_that_cannot_be_read_is_not_queued(device, bench_work):
    device.open_bench(bench_work)
    device.lose_network()
    device.go_to("rest")
    device.page.get_by_label("tare:").check()
    device.page.get_by_label("Balance shows, g").fill("45.3")
    device.page.get_by_role("button", name="Record this reading").click()
    assert device.page.get_by_label("Balance shows, g").input_value() == "45.3"
    assert device.page.evaluate("document.activeElement.name") == "mass"


def test_after_signing_out_nobody_sees_or_sends_the_queue(
    device, bench_work, student, classmate
):
    device.open_bench(bench_work)
    device.cable.cut()
    device.weigh("tare", "45.30")
    device.says("1 reading waiting to be sent")
    device.page.get_by_text("Menu").click()
    device.page.get_by_role("button", name="Sign out").click()
    expect(device.page.get_by_role("heading", name="No network")).to_be_visible()
    device.page.goto(bench_url(bench_work))
    expect(device.page.get_by_role("heading", name="No network")).to_be_visible()
    device.context.clear_cookies()
    device.cable.mend()
    device.context.add_cookies([session_cookie(classmate, device.cable.url)])
    device.page.goto(bench_url(bench_work))
    expect(device.page.get_by_role("heading", name="There is no such page")).to_be_visible()
    assert not Reading.objects.exists()
    device.context.clear_cookies()
    device.context.add_cookies([session_cookie(student, device.cable.url)])
    device.page.goto(bench_url(bench_work))
    device.says("Everything you recorded is saved on the server.")
    assert [r.by for r in Reading.objects.all()] == [student]


@pytest.fixture
def server(transactional_db):
    made = Server()
    made.start()
    yield made
    made.kill()


def test_a_server_killed_while_the_queue_is_sent(browser, server, bench_work, student):
    cable = Cable(server.port)
    device = Device(browser, cable, student)
    device.open_bench(bench_work)
    device.lose_network()
    written = [f"45.{number:02d}" for number in range(30, 45)]
    for mass in written:
        device.weigh("tare", mass)
    device.says("15 readings waiting to be sent")
    device.get_network_back()
    wait_until(lambda: Reading.objects.count() >= 3)
    server.kill()
    at_death = Reading.objects.count()
    assert at_death < 15
    device.says("waiting to be sent")
    server.start()
    device.page.evaluate("window.dispatchEvent(new Event('online'))")
    device.says("Everything you recorded is saved on the server.")
    assert masses(bench_work) == [("tare", f"{mass} g") for mass in written]
    device.context.close()
    cable.close()


def test_a_page_loaded_offline_shows_the_newest_this_device_knows(device, bench_work):
    """What was saved a moment before was missing from the kept page. Then three words on one step,
    one after the other, which need no question."""
    page = device.page
    device.open_bench(bench_work)
    page.get_by_role("button", name="Done as planned, Cool").click()
    page.get_by_role("heading", name="2. Add").wait_for()
    device.weigh("tare", "45.30")
    page.locator(".readings__value").get_by_text("45.30").wait_for()
    device.lose_network()
    page.goto(bench_url(bench_work))
    page.get_by_role("heading", name="2. Add").wait_for()
    expect(page.locator("#bench-left")).to_have_text("16 steps to go.")
    device.go_to("rest")
    expect(page.locator(".target")).to_contain_text("45.30 g")
    device.go_to("cool")
    page.get_by_role("button", name="Take back Cool").click()
    device.says("1 step waiting")
    page.get_by_role("button", name="Skipped Cool").click()
    page.get_by_role("heading", name="2. Add").wait_for()
    device.says("2 steps waiting")
    device.get_network_back()
    device.says("Everything you recorded is saved on the server.")
    assert [s.mark for s in BenchStep.objects.order_by("pk")] == ["done", "done", "skipped"]
    assert step_entries(bench_work.bench_record)["cool"].mark == "skipped"


def test_a_step_filled_in_without_a_network_is_sent_when_it_is_back(device, planned_work):
    page = device.page
    page.goto(reverse("build-plan", args=[planned_work.public_id]) + "?step=cool")
    device.lose_network()
    page.get_by_label("To, °C").fill("7")
    page.keyboard.press("Tab")
    expect(page.locator("#form-cool")).to_contain_text("kept on this device")
    assert current_plan(planned_work).version == 1
    page.close()
    device.get_network_back()
    device.page = page = device.new_tab()
    page.goto(reverse("build-plan", args=[planned_work.public_id]))
    expect(page.locator("#plan-drafts")).to_contain_text("is saved now")
    assert current_plan(planned_work).data["steps"][0]["to_C"] == 7


def test_a_part_of_a_divided_sample_waits_for_the_network_too(device, bench_work):
    device.open_bench(bench_work)
    device.lose_network()
    page = device.page
    device.go_to("rest")
    page.get_by_text("Record a part taken out").click()
    page.get_by_label("to a partner").check()
    page.get_by_label("Its vial empty, g").fill("20.10")
    page.get_by_label("Its vial with the part, g").fill("23.00")
    page.get_by_role("button", name="Record this part").click()
    device.says("1 reading waiting to be sent")
    device.get_network_back()
    device.says("Everything you recorded is saved")
    part = Reading.objects.get()
    assert (part.kind, part.shown_value, part.flask) == ("part", "2.90 g", "to a partner")


@pytest.fixture
def refusing(request, monkeypatch):
    """The server answers with this error's status to one reading, however it is sent."""
    take = entry_views.enter

    def enter(bench, forms):
        if any(form.data.get("mass") == "51.24" for form in forms):
            raise request.param("not this one")
        return take(bench, forms)

    monkeypatch.setattr(entry_views, "enter", enter)


@pytest.mark.parametrize(
    ("refusing", "network"),
    [(SuspiciousOperation, "later"), (RuntimeError, "all the time")],
    indirect=["refusing"],
)
def test_a_reading_that_is_refused_is_set_aside_and_the_others_go_on(
    device, bench_work, refusing, network
):
    """It used to stand first for ever, under "No network", and nobody could drop it."""
    device.open_bench(bench_work)
    if network == "later":
        device.lose_network()
        device.weigh("tare", "51.24")
        device.weigh("tare", "45.30")
        device.says("2 readings waiting to be sent")
        device.get_network_back()
    else:
        device.weigh("tare", "51.24")
        device.weigh("tare", "45.30")
    device.says("1 entry needs your decision")
    device.says("Not in the record")
    assert "No network" not in device.page.locator("#bench-queue").inner_text()
    wait_until(lambda: masses(bench_work) == [("tare", "45.30 g")])

    device.page.reload()
    device.says("1 entry needs your decision")
    device.weigh("gross", "51.20")
    wait_until(lambda: len(masses(bench_work)) == 2)
    device.page.get_by_role("button", name="Correct it").click()
    mass = device.page.get_by_label("Balance shows, g")
    expect(mass).to_have_value("51.24")
    expect(device.page.get_by_label("tare:")).to_be_checked()
    mass.fill("45.31")
    device.page.get_by_role("button", name="Record this reading").click()
    device.says("Everything you recorded is saved on the server.")
    assert masses(bench_work) == [
        ("tare", "45.30 g"),
        ("gross", "51.20 g"),
        ("tare", "45.31 g"),
    ]


@pytest.mark.parametrize(
    ("refusing", "reason"),
    [
        (PermissionDenied, "You may not write to this record any more"),
        (Http404, "The step or reading it is about is not there"),
        (TokenBelongsElsewhere, "The record did not take it"),
    ],
    indirect=["refusing"],
)
def test_a_reading_that_is_refused_says_why_and_can_be_dropped(
    device, bench_work, refusing, reason
):
    device.open_bench(bench_work)
    device.lose_network()
    device.weigh("tare", "51.24")
    device.get_network_back()
    device.says("1 entry needs your decision")
    device.says(reason)
    device.page.get_by_role("button", name="Drop it").click()
    device.says("Everything you recorded is saved on the server.")
    assert not Reading.objects.exists()
