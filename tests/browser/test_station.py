"""The shared station in a real browser, with and without JavaScript."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from workups.models import Reading
from workups.services.station import set_station_pin

PHONE = {"width": 360, "height": 740}


@pytest.fixture
def with_pin(bench_work, student):
    set_station_pin(actor=student, work=bench_work, pin="4711")
    return bench_work


def enter(page, work):
    page.goto(reverse("enter-station"))
    page.get_by_label("Bench code").fill(work.bench_code)
    page.get_by_label("PIN", exact=True).fill("4711")
    page.get_by_role("button", name="To my weighings").click()
    page.wait_for_url("**/station/weighing/")  # with its script, which counts from then on


@pytest.mark.parametrize("with_script", [True, False])
def test_a_weighing_at_the_station(new_page, with_pin, with_script):
    page = new_page(None, java_script_enabled=with_script, viewport=PHONE)
    enter(page, with_pin)
    page.get_by_label("tare:").check()
    page.get_by_label("Balance shows, g").fill("45.30")
    page.get_by_role("button", name="Record this reading").click()
    expect(page.locator(".readings")).to_contain_text("45.30")
    assert Reading.objects.get().source == "station"
    page.get_by_role("button", name="Sign out").click()
    page.goto(reverse("record-at-station"))
    expect(page.get_by_role("heading", name="Weighing station")).to_be_visible()


def test_it_warns_before_it_signs_out_and_one_tap_stays(new_page, with_pin):
    page = new_page(None, viewport=PHONE)
    page.clock.install()
    enter(page, with_pin)
    page.clock.fast_forward("01:35")
    stay = page.get_by_role("button", name="I am still here")
    expect(stay).to_be_visible()
    with page.expect_response(lambda answer: "/station/stay/" in answer.url) as told:
        stay.click()
    assert told.value.status == 204
    expect(stay).to_be_hidden()
    page.clock.fast_forward("01:35")
    expect(stay).to_be_visible()
    page.clock.fast_forward("00:30")
    expect(page.get_by_role("heading", name="Weighing station")).to_be_visible()
