import time
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from workups.models import BenchRecord, EntrySource, Reading, Work
from workups.selectors.works import record_is_locked, works_with_everything
from workups.services import station as station_services
from workups.services.station import TooManyTries, WrongCodeOrPin, pin_seal, seal_holds
from workups.web.access import current_person, get_work_for
from workups.web.bench.entries import KINDS, enter, entry_form
from workups.web.bench.entry import EntryForm
from workups.web.bench.entry_views import QueueForm, sent_again
from workups.web.bench.record import Bench
from workups.web.bench.tables import target_tables
from workups.web.bench.views import target_forms
from workups.web.requests import FORM_METHODS, HtmxRequest, client_address, sent_data

# Who is at the station: kept in the session, for a short while, apart from any sign-in.


KEY = "station"


@dataclass(frozen=True)
class Seat:
    work: Work
    idle_s: int


def take_seat(request: HttpRequest, work: Work, idle_minutes: int) -> None:
    request.session.cycle_key()
    request.session[KEY] = {
        "work": str(work.public_id),
        "seal": pin_seal(work),
        "idle_s": 60 * idle_minutes,
        "until": time.time() + 60 * idle_minutes,
    }


def seat_of(request: HttpRequest) -> Seat | None:
    """The seat while it lasts; asking for it makes it last anew. None once it is over."""
    kept = request.session.get(KEY)
    if kept is None:
        return None
    work = works_with_everything().filter(public_id=kept["work"]).first()
    over = time.time() > kept["until"]
    if over or work is None or work.enrolment.left_at or not seal_holds(work, kept["seal"]):
        leave_seat(request)
        return None
    request.session[KEY] = {**kept, "until": time.time() + kept["idle_s"]}
    return Seat(work, kept["idle_s"])


def leave_seat(request: HttpRequest) -> None:
    """Leave nothing of the seat behind; somebody signed in on this browser stays so."""
    request.session.pop(KEY, None)
    if not request.user.is_authenticated:
        request.session.flush()


IDLE_CHOICES = (("2", "2 minutes"), ("5", "5 minutes"), ("20", "20 minutes"))


def pin_field(label: str, **kwargs: Any) -> forms.RegexField:
    """Digits on the numeric keypad, hidden while they are typed."""
    return forms.RegexField(
        r"^[0-9]{4,8}$",
        label=label,
        strip=True,
        error_messages={"invalid": "A PIN has 4 to 8 digits."},
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        **kwargs,
    )


class EnterStationForm(forms.Form):
    code = forms.CharField(
        label="Bench code",
        max_length=8,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )
    pin = pin_field("PIN")
    idle = forms.ChoiceField(
        label="Sign out by itself after",
        choices=IDLE_CHOICES,
        initial="2",
        widget=forms.RadioSelect,
    )

    def clean_code(self) -> str:
        return str(self.cleaned_data["code"]).strip().upper()


class StationPinForm(forms.Form):
    """A PIN twice, because it cannot be read while it is typed."""

    pin = pin_field("New PIN", help_text="4 to 8 digits, for the shared station alone.")
    again = pin_field("Again")

    def __init__(self, data: Any = None, *, work: Work, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.work = work

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        pin, again = cleaned.get("pin"), cleaned.get("again")
        if pin and again and pin != again:
            self.add_error("again", "The two are not the same.")
        if pin and len(set(pin)) == 1:
            self.add_error("pin", "One digit over and over is guessed first. Take another PIN.")
        return cleaned


@login_not_required
@never_cache
@sensitive_post_parameters("pin")
@require_http_methods(FORM_METHODS)
def enter_station(request: HtmxRequest) -> HttpResponse:
    """Bench code and PIN. Looking at this page ends what the one before left open."""
    form = EnterStationForm(sent_data(request))
    if request.method == "POST" and form.is_valid():
        asked = form.cleaned_data
        try:
            work = station_services.enter_station(
                code=asked["code"], pin=asked["pin"], address=client_address(request)
            )
        except WrongCodeOrPin:
            form.add_error(None, "This code and PIN do not belong together.")
        except TooManyTries:
            form.add_error(
                None, "It was tried too often. Wait a quarter of an hour, or ask your TA."
            )
        else:
            take_seat(request, work, int(asked["idle"]))
            return redirect("record-at-station")
    elif request.method != "POST":
        leave_seat(request)
    return render(request, "workups/station/enter_station.html", {"form": form})


@login_not_required
@never_cache
@require_http_methods(FORM_METHODS)
def record_at_station(request: HtmxRequest) -> HttpResponse:
    """The weighings of one record, and the form for the next; nobody else's, and no names."""
    seat = seat_of(request)
    if seat is None:
        return redirect("enter-station")
    if request.method == "POST":
        return record_weighing(request, seat)
    return render_station(request, seat)


def record_weighing(request: HtmxRequest, seat: Seat) -> HttpResponse:
    """A weighing, or a part taken out of the product: what a balance is needed for."""
    record, asked = seat.work.bench_record, QueueForm(request.POST)
    if record is None or is_closed(seat):
        return render_station(request, seat)
    said = asked.cleaned_data if asked.is_valid() else {"entry": "", "about": ""}
    if not any(kind.entry == said["entry"] and kind.at_station for kind in KINDS.values()):
        raise Http404
    form = entry_form(bench_of(seat, record), said["entry"], said["about"], request.POST)
    (answer,) = enter(form.bench, [form])
    if not answer.is_saved:
        form, _ = sent_again(form, answer)
        return render_station(request, seat, form)
    made = answer.rows[0]
    assert isinstance(made, Reading)
    messages.success(request, f"Recorded: {made.get_kind_display().lower()} {made.shown_value}.")
    return redirect("record-at-station")


def bench_of(seat: Seat, record: BenchRecord) -> Bench:
    return Bench(seat.work.student, seat.work, record, EntrySource.STATION)


def is_closed(seat: Seat) -> bool:
    """Whether nothing can be entered: no record, locked, or the course archived."""
    record = seat.work.bench_record
    return (
        record is None
        or seat.work.assignment.section.course.is_archived
        or record_is_locked(record)
    )


def render_station(request: HtmxRequest, seat: Seat, sent: EntryForm | None = None) -> HttpResponse:
    record = seat.work.bench_record
    targets = []
    if record is not None:
        bench, about = bench_of(seat, record), sent.about if sent else ""
        targets = [
            (t, target_forms(bench, t.key, sent if t.key == about else None, at_station=True))
            for t in target_tables(record, seat.work.to_core())
        ]
    context: dict[str, Any] = {
        "work": seat.work,
        "idle_s": seat.idle_s,
        "idle_minutes": seat.idle_s // 60,
        "targets": targets,
        "is_closed": is_closed(seat),
        "has_record": record is not None,
    }
    return render(request, "workups/station/record_at_station.html", context)


@login_not_required
@require_POST
def stay_at_station(request: HtmxRequest) -> HttpResponse:
    """Somebody is still there: the time starts again."""
    if seat_of(request) is None:
        return redirect("enter-station")
    if request.headers.get("Accept") == "text/plain":  # the page's script, while somebody types
        return HttpResponse(status=204)
    return redirect("record-at-station")


@login_not_required
@require_POST
def leave_station(request: HtmxRequest) -> HttpResponse:
    leave_seat(request)
    return redirect("enter-station")


@sensitive_post_parameters("pin", "again")
@require_http_methods(FORM_METHODS)
def set_station_pin(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    changing = request.method == "POST"
    access, work = get_work_for(current_person(request), work_id, to_change=changing)
    form = StationPinForm(sent_data(request), work=work)
    if changing and "remove" in request.POST:
        station_services.set_station_pin(actor=access.person, work=work, pin="")
        messages.success(request, "The PIN is gone: nobody can use your code at the station.")
        return redirect("show-work", work_id)
    if changing and form.is_valid():
        pin = form.cleaned_data["pin"]
        station_services.set_station_pin(actor=access.person, work=work, pin=pin)
        messages.success(request, "Your PIN for the shared station is set.")
        return redirect("show-work", work_id)
    context = {"access": access, "work": work, "form": form}
    return render(request, "workups/station/set_station_pin.html", context)
