"""A sample that is divided: a partner's share, or a part kept for another test."""

import pytest
from django.urls import reverse

from workups.documents import assessment_from_data
from workups.models import Reading
from workups.selectors.bench import standing_readings, weighings_of
from workups.selectors.marks import newest_snapshot
from workups.services.reports import lock_readings

TARGET = "hexyl_acetate"
SHARE = {
    "use": "to a partner",
    "empty": "20.10",
    "full": "23.00",
    "text": "KN6QP",
}


@pytest.fixture
def send(sign_in, student, bench_work):
    """Send a form of the bench; each with a token of its own."""
    tokens = iter(f"00000000-0000-4000-8000-{n:012d}" for n in range(1, 99))

    def post(entry, data, **headers):
        url = reverse("record-entry", args=[bench_work.public_id, entry, TARGET])
        sent = {**data, "client_token": next(tokens)}
        return sign_in(student).post(url, sent, follow=True, headers=headers)

    return post


def weigh(send, kind, mass):
    return send(
        "weighing", {"kind": kind, "mass": mass, "on_pan": ["flask"]}
    )


def test_a_part_is_added_to_the_mass_by_difference(send, bench_work):
    weigh(send, "tare", "45.30")
    send("part", SHARE)
    page = weigh(send, "gross", "48.30").content.decode()
    assert "With 2.90" in page
    assert "<strong>5.90" in page
    pair = weighings_of(standing_readings(bench_work.bench_record), TARGET)
    assert str(pair.product_g.normalize()) == "5.9"


def test_the_yield_counts_the_whole_sample(send, bench_work, student):
    for kind, mass in (("tare", "45.30"), ("gross", "48.30"), ("gross", "48.30")):
        weigh(send, kind, mass)
    send("part", SHARE)
    lock_readings(actor=student, record=bench_work.bench_record)
    snapshot = newest_snapshot(bench_work)
    (found,) = assessment_from_data(snapshot.assessment).readings
    assert found.mass_g == pytest.approx(5.90)


def test_a_vial_that_became_lighter_is_asked_about(send):
    page = send("part", {**SHARE, "full": "20.00"}, **{"HX-Request": "true"})
    assert "not above the empty vial" in page.content.decode()
    assert 'value="20.00"' in page.content.decode()
    assert not Reading.objects.exists()


def test_a_part_needs_the_decimals_of_the_balance(send):
    assert "write all of them" in send("part", {**SHARE, "full": "23"}).content.decode()


def test_a_part_is_corrected_and_struck_out(send, sign_in, student, bench_work):
    send("part", SHARE)
    part = Reading.objects.get()
    url = reverse("record-entry", args=[bench_work.public_id, "correct", part.pk])
    page = sign_in(student).get(url).content.decode()
    assert 'value="23.00"' in page
    corrected = {
        **SHARE,
        "full": "23.10",
        "reason": "misread",
        "client_token": "00000000-0000-4000-9000-000000000001",
    }
    page = sign_in(student).post(url, corrected, follow=True).content.decode()
    assert "Struck out: misread" in page
    pair = weighings_of(standing_readings(bench_work.bench_record), TARGET)
    assert str(pair.taken_out_g.normalize()) == "3"
