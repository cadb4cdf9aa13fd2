"""Readings: the balance's decimals, the difference at once, corrections that keep the old."""

import re
from decimal import Decimal
from uuid import uuid4

import pytest
from django.urls import reverse

from tests.entries import enter
from workups.models import Reading
from workups.selectors.bench import standing_readings
from workups.services.entries import Correction, EntryOrigin, ReadingValues

TARGET = "hexyl_acetate"
HTMX = {"HX-Request": "true"}


def url_of(name, work, *args):
    return reverse(name, args=[work.public_id, *args])


def text_of(response):
    return response.content.decode().replace("\u00a0", " ")


@pytest.fixture
def post(sign_in, student, bench_work):
    def send(name, *args, headers=None, follow=True, **data):
        data.setdefault("client_token", str(uuid4()))
        url = url_of(name, bench_work, *args)
        return sign_in(student).post(url, data, follow=follow, headers=headers or {})

    return send


@pytest.fixture
def weigh(post):
    def send(kind, mass, **more):
        data = {"kind": kind, "mass": mass, "on_pan": ["flask"], **more}
        return post("record-entry", "weighing", TARGET, **data)

    return send


def test_the_mass_by_difference_is_shown_at_once(weigh, post):
    weigh("tare", "45.30", flask_number="17")
    fragment = text_of(weigh("gross", "51.24", flask_number="17", headers=HTMX))
    assert "<html" not in fragment
    assert "5.94 g" in fragment
    assert "one gross reading" in fragment


def test_constant_mass_is_stated(weigh):
    weigh("tare", "45.30")
    weigh("gross", "51.30")
    assert "not constant yet" in text_of(weigh("gross", "51.24"))
    assert "constant mass" in text_of(weigh("gross", "51.24"))


@pytest.mark.parametrize("typed", ["45.3", "45", "45.300", "forty", ""])
def test_a_reading_without_the_balances_decimals_is_kept_and_marked(weigh, typed):
    page = text_of(weigh("tare", typed, flask_number="17", balance="B2"))
    assert "Not saved yet" in page
    assert f'value="{typed}"' in page or not typed
    assert 'value="17"' in page
    assert 'value="B2"' in page
    assert not Reading.objects.exists()


def test_a_comma_is_a_decimal_point(weigh):
    weigh("tare", "45,30")
    assert Reading.objects.get().value == Decimal("45.30")


def test_a_reading_that_arrives_twice_counts_once(weigh):
    token = str(uuid4())
    weigh("tare", "45.30", client_token=token)
    weigh("tare", "45.30", client_token=token)
    assert Reading.objects.count() == 1


def test_a_reading_without_a_token_is_not_stored(weigh):
    weigh("tare", "45.30", client_token="not a token")
    assert not Reading.objects.exists()


def test_the_next_weighing_starts_from_the_last_one(weigh):
    page = text_of(weigh("tare", "45.30", flask_number="17", balance="B2"))
    assert 'value="gross"' in page
    assert page.count('value="17"') == 1


@pytest.mark.parametrize(
    ("tare", "gross", "question"),
    [
        ({"mass": "51.24"}, {"mass": "45.30"}, "Please check both entries"),
        ({"mass": "48.07"}, {"mass": "84.07"}, "larger than everything that was put in"),
        (
            {"mass": "45.30", "flask_number": "17"},
            {"mass": "51.24", "flask_number": "71"},
            "Tare is for flask 17, gross for flask 71",
        ),
        (
            {"mass": "45.30"},
            {"mass": "51.24", "on_pan": ["flask", "stir bar"]},
            "Not the same things were on the pan",
        ),
        (
            {"mass": "45.30", "balance": "B1"},
            {"mass": "51.24", "balance": "B2"},
            "different balances",
        ),
    ],
)
def test_odd_readings_are_asked_about_and_stored(weigh, tare, gross, question):
    weigh("tare", **tare)
    page = text_of(weigh("gross", **gross))
    assert "Please check this entry" in page
    assert question in page
    assert Reading.objects.count() == 2


def test_a_target_of_another_exercise_is_not_found(post):
    response = post("record-entry", "weighing", "water", kind="tare", mass="45.30")
    assert response.status_code == 404


def test_a_correction_strikes_the_old_through_and_keeps_it(weigh, post, sign_in, student,
                                                           bench_work):
    weigh("tare", "45.30")
    weigh("gross", "51.42")
    old = Reading.objects.get(kind="gross")
    url = url_of("record-entry", bench_work, "correct", old.pk)
    assert 'value="51.42"' in text_of(sign_in(student).get(url))
    missing = post(
        "record-entry", "correct", old.pk, kind="gross", mass="51.24", reason=""
    )
    assert 'value="51.24"' in text_of(missing)
    assert "This field is required" in text_of(missing)
    page = text_of(
        post(
            "record-entry",
            "correct",
            old.pk,
            kind="gross",
            mass="51.24",
            on_pan=["flask"],
            reason="digits swapped",
        )
    )
    assert "<s>" in page
    assert "51.42 g" in page
    assert "Struck out: digits swapped" in page
    assert "5.94 g" in page


def test_a_tare_entered_as_a_gross_is_corrected_to_a_tare(weigh, post):
    weigh("gross", "45.30")
    old = Reading.objects.get()
    post(
        "record-entry",
        "correct",
        old.pk,
        target=TARGET,
        kind="tare",
        mass="45.30",
        on_pan=["flask"],
        reason="wrong button",
    )
    assert Reading.objects.get(supersedes=old).kind == "tare"


def test_a_reading_is_struck_out_with_a_reason(weigh, post, bench_work):
    weigh("tare", "45.30")
    old = Reading.objects.get()
    page = text_of(post("record-entry", "strike", old.pk, reason=""))
    assert "This field is required" in page
    page = text_of(post("record-entry", "strike", old.pk, reason="another flask"))
    assert "Struck out: another flask" in page
    assert standing_readings(bench_work.bench_record) == []


def test_a_correction_of_what_the_partner_corrected_meanwhile_is_asked_about(
    weigh, post, bench_work, classmate
):
    weigh("tare", "45.30")
    old = Reading.objects.get()
    values = ReadingValues("tare", TARGET, value=Decimal("45.31"), unit="g")
    theirs = Correction(old, values, "slip")
    enter(bench_work.bench_record, EntryOrigin(classmate, uuid4()), theirs)
    mine = {"kind": "tare", "mass": "45.32", "on_pan": ["flask"], "reason": "misread"}
    page = text_of(post("record-entry", "correct", old.pk, **mine))
    assert "Meanwhile in the record: Tare 45" in page
    assert 'value="45.32"' in page
    assert Reading.objects.count() == 2
    seen = re.search(r'name="seen" value="([^"]+)"', page)[1]
    post("record-entry", "correct", old.pk, **mine, seen=seen)
    assert [r.shown_value for r in standing_readings(bench_work.bench_record)] == ["45.32 g"]


def test_the_drying_agent_and_its_look_are_recorded_together(post, sign_in, student, bench_work):
    page = text_of(
        post(
            "record-entry", "drying",
            "dry",
            agent_mass="3.05",
            agent_portions="3",
            agent_look="free-flowing",
            liquid_look="clear",
            drying_time="10",
        )
    )
    assert "3.05 g" in page
    assert "free-flowing" in page
    assert Reading.objects.count() == 5
    form = text_of(sign_in(student).get(url_of("record-entry", bench_work, "drying", "dry")))
    assert "Dry ‘organic layer’" in form
    assert "Everything about this is recorded" in form


@pytest.mark.parametrize(
    "data", [{}, {"agent_mass": "much"}, {"agent_portions": "2.5"}, {"agent_look": "wet"}]
)
def test_drying_that_cannot_be_read_is_marked(post, data):
    page = text_of(post("record-entry", "drying", "dry", **data))
    assert "Not saved yet" in page
    assert not Reading.objects.exists()


@pytest.mark.parametrize(
    ("kind", "new"),
    [("agent look", {"agent_look": "clumped"}), ("agent mass", {"agent_mass": "2.5"})],
)
def test_what_was_seen_while_drying_is_corrected(post, kind, new):
    post("record-entry", "drying", "dry", agent_mass="3.0", agent_look="free-flowing")
    old = Reading.objects.get(kind=kind)
    post("record-entry", "correct", old.pk, reason="wrong", **new)
    assert Reading.objects.get(supersedes=old).shown_value.startswith(next(iter(new.values())))


def test_a_volume_is_recorded_for_a_layer_of_the_step(post):
    page = text_of(post("record-entry", "volume", "extract", flask="organic layer", volume="46"))
    assert "46 mL" in page
    page = text_of(post("record-entry", "volume", "extract", flask="spent brine", volume="46"))
    assert "Not saved yet" in page


def test_amounts_really_used_are_recorded_and_not_asked_again(post, sign_in, student, bench_work):
    page = text_of(post("record-entry", "reagents", **{"1_hexanol": "5.02"}))
    assert "5.02 g" in page
    form = text_of(sign_in(student).get(url_of("record-entry", bench_work, "reagents")))
    assert "1-hexanol" not in form
    assert "acetic acid" in form
    assert "Not saved yet" in text_of(post("record-entry", "reagents"))


@pytest.mark.parametrize(
    ("data", "shown"),
    [
        ({"witness_kind": "odour", "text": "of fruit", "agrees": "yes"}, "of fruit"),
        ({"witness_kind": "mp", "low": "55.5", "high": "57.0", "agrees": "no"}, "55.5–57.0 °C"),
    ],
)
def test_a_sign_of_purity_is_recorded(post, data, shown):
    assert shown in text_of(post("record-entry", "witness", TARGET, **data))


@pytest.mark.parametrize(
    "data",
    [
        {"witness_kind": "odour"},
        {"witness_kind": "mp", "low": "57", "high": "55"},
        {"text": "of fruit"},
    ],
)
def test_a_sign_that_says_nothing_is_marked(post, data):
    page = text_of(post("record-entry", "witness", TARGET, **data))
    assert "Not saved yet" in page
    assert not Reading.objects.exists()


def test_a_sign_is_corrected(post):
    post("record-entry", "witness", TARGET, witness_kind="odour", text="of fruit")
    old = Reading.objects.get()
    page = text_of(
        post(
            "record-entry",
            "correct",
            old.pk,
            witness_kind="odour",
            text="of vinegar",
            agrees="no",
            reason="smelled again",
        )
    )
    assert "of vinegar" in page
    assert "Struck out: smelled again" in page
