"""A kind of entry is one class: declared, it arrives at every door to the record."""

from uuid import uuid4

import pytest
from django import forms
from django.urls import reverse

from workups.chemistry.plan import STEP_KINDS, Extract, field_specs
from workups.models import EntrySource, Reading, ReadingKind, SheetTyping
from workups.services.entries import ReadingValues
from workups.services.station import set_station_pin
from workups.web.bench.entries import KINDS
from workups.web.bench.entry import EntryForm, Of
from workups.web.bench.product_kinds import OfTarget
from workups.web.bench.reading_kinds import OfStepReading
from workups.web.fields import NumberField

TARGET = "hexyl_acetate"


class ColourForm(OfTarget):
    """What the product looks like against white paper."""

    entry = "colour"
    summary = "Record the colour"
    at_station = True

    colour = forms.CharField(label="Colour on white paper", max_length=20)

    def said(self):
        seen = self.cleaned_data["colour"]
        return [ReadingValues(ReadingKind.WITNESS, self.place, witness_kind="appearance",
                              text=seen)]  # fmt: skip


class InterfaceForm(OfStepReading):
    """How thick the layer between the layers is."""

    entry = "interface"
    summary = "Record the interface"

    interface = NumberField(label="Interface, mL", unit="mL", low=0, high=50)

    @classmethod
    def takes(cls, step):
        return isinstance(step, Extract)

    def said(self):
        found = self.cleaned_data["interface"]
        return [ReadingValues(ReadingKind.VOLUME, step_id=self.place, flask="between",
                              value=found, unit="mL")]  # fmt: skip


NEW = [
    (ColourForm, TARGET, {"colour": "straw"}, "straw"),
    (InterfaceForm, "extract", {"interface": "3"}, "3 mL"),
]
everywhere = pytest.mark.parametrize(
    ("kind", "about", "said", "shown"), NEW, ids=["product", "step"]
)


@pytest.fixture(autouse=True)
def declared(monkeypatch):
    for kind, *_ in NEW:
        monkeypatch.setitem(KINDS, kind.entry, kind)


def token():
    return {"client_token": str(uuid4())}


def address(work, kind, about):
    return reverse("record-entry", args=[work.public_id, kind.entry, about])


@everywhere
def test_the_bench_page_offers_it_and_its_own_page_takes_it(
    sign_in, student, bench_work, kind, about, said, shown
):
    client, url = sign_in(student), address(bench_work, kind, about)
    bench = reverse("show-bench", args=[bench_work.public_id])
    assert url in client.get(bench).content.decode()
    assert f'data-entry="{kind.entry}"' in client.get(url).content.decode()
    wrong = client.post(url, {**dict.fromkeys(said, ""), **token()}).content.decode()
    assert "Not saved yet" in wrong
    page = client.post(url, {**said, **token()}, follow=True).content.decode()
    assert shown in page.replace("\u00a0", " ")
    assert Reading.objects.get().source == EntrySource.BENCH


@everywhere
def test_a_device_sends_it_later_and_twice(sign_in, student, bench_work, kind, about, said, shown):
    client = sign_in(student)
    offline = reverse("show-offline-bench", args=[bench_work.public_id])
    kept = client.get(offline).content.decode()
    assert (kind.of is Of.TARGET) or f'data-entry="{kind.entry}" data-about="{about}"' in kept
    url = reverse("replay-entry", args=[bench_work.public_id])
    sent = {**said, **token(), "queue-entry": kind.entry, "queue-about": about}
    first, again = client.post(url, sent).json(), client.post(url, sent).json()
    assert (first["outcome"], first["was_there"]) == ("saved", False)
    assert (again["outcome"], again["was_there"]) == ("saved", True)
    assert again["tokens"] == first["tokens"]
    refused = client.post(url, {**sent, **dict.fromkeys(said, "x" * 30), **token()}).json()
    assert refused["outcome"] == "unreadable"
    assert [r.shown_value for r in Reading.objects.all()] == [shown]


@everywhere
def test_the_sheet_has_room_for_it(sign_in, student, bench_work, kind, about, said, shown):
    client, url = sign_in(student), reverse("type-sheet", args=[bench_work.public_id])
    ((field, typed),) = said.items()
    assert f'name="{field}--{about}"' in client.get(url).content.decode()
    for turn in "12":
        client.post(url, {f"{field}--{about}": typed, "turn": turn, **token()})
    assert SheetTyping.objects.get(turn=2).stored
    reading = Reading.objects.get()
    assert (reading.shown_value, reading.source) == (shown, EntrySource.SHEET)


def test_the_station_takes_what_is_declared_for_it(client, student, bench_work):
    set_station_pin(actor=student, work=bench_work, pin="4711")
    seat = {"code": bench_work.bench_code, "pin": "4711", "idle": "2"}
    page = client.post(reverse("enter-station"), seat, follow=True).content.decode()
    assert "Record the colour" in page
    assert "Record mp, TLC" not in page
    url = reverse("record-at-station")
    for kind, about, said, _ in NEW:
        sent = {**said, **token(), "queue-entry": kind.entry, "queue-about": about}
        assert client.post(url, sent).status_code == (302 if kind.at_station else 404)
    assert Reading.objects.get().source == EntrySource.STATION


def test_no_field_of_a_step_is_hidden_by_what_every_entry_has():
    """A form of a step has the step's own fields beside those of every entry."""
    own = {*EntryForm.base_fields, "remark", "reason", "after"}
    for verb, step in STEP_KINDS.items():
        assert not own & set(field_specs(step)), verb
