"""How people of the course act through their pages, and what the machine remembers of it."""

from dataclasses import dataclass
from random import Random
from traceback import format_exception
from typing import Any
from urllib.parse import urlencode
from uuid import NAMESPACE_OID, UUID, uuid5

from django.test import Client
from django.urls import reverse

from tests.machine.faults import FINE, STOPS, STUMBLES, befalls
from tests.machine.leaks import leaks_in
from tests.machine.pages import Form, Page, Values, page_of
from tests.machine.world import STUDENTS, World
from workups.models import BenchStep, Reading, Work

MASSES = {"tare": ("45.30", "45.31", "44.87"), "gross": ("47.12", "47.13", "45.32", "49.90")}
NUMBERS = ("0.5", "3", "12.25", "0.3333333", "20", "1,5", "-1", "")
COUNTS = ("1", "2", "3", "x")
WORDS = ("", "clear", "<b>bold</b>", "smells of roses")
# A device's own clock and what it adds to get ours, as hidden fields carry them.
CLOCKS = (
    ("", ""),
    ("", ""),
    ("2026-09-07T08:00:00Z", "0"),
    ("9999-12-31T23:59:00Z", "86400"),
    ("0001-01-01T00:00:00Z", "0"),
)
def usual() -> Random:
    """For a form that is always filled in alike."""
    return Random(0)  # noqa: S311 (nothing secret)


# The other forms are all on the page that a device keeps.
ON_THE_BENCH_PAGE = ("weighing", "part", "witness", "mark")


@dataclass
class Entry:
    """One entry of the bench as a device keeps it until the server has answered."""

    owner: str
    work_id: UUID
    kind: str
    about: str
    fields: Values

    @property
    def token(self) -> UUID:
        return UUID(self.fields["client_token"][0])

    def as_sent(self) -> Values:
        return {**self.fields, "queue-entry": [self.kind], "queue-about": [self.about]}

    def learns_of(self, tokens: list[str]) -> None:
        """What stood in the record is put on the page: sent again, it takes its place."""
        self.fields["seen"] = [" ".join([*self.fields.get("seen", []), *tokens])]


def rows_of(token: UUID) -> list[Reading | BenchStep]:
    """All that an entry's token made: one row, or a row for each reading or button of its form."""
    tokens = [token]
    tokens += [uuid5(token, part) for part in ("done", "skipped", "open", *map(str, range(12)))]
    return [
        row
        for model in (Reading, BenchStep)
        for row in model.objects.filter(client_token__in=tokens).order_by("pk")
    ]


def count_entries() -> int:
    return Reading.objects.count() + BenchStep.objects.count()


class Player:
    """Signs people in, asks for pages, fills in their forms; any answer of 500 ends the game."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.clients = {name: Client(raise_request_exception=False) for name in world.people}
        self.sign_in()
        self.has_stumbled = False
        self.sent = 0
        self.tokens: list[UUID] = []  # of all entries that were ever sent
        self.acknowledged: dict[UUID, tuple[str, list[str]]] = {}
        self.let_in: set[tuple[int, int]] = set()  # works by an owner's word, with the record

    def sign_in(self) -> None:
        backend = "django.contrib.auth.backends.ModelBackend"
        for name, client in self.clients.items():
            client.force_login(self.world.people[name], backend=backend)

    def get(self, who: str, name: str, *args: Any, **query: str) -> Page:
        url = reverse(name, args=args)
        page = self.ask(who, f"{url}?{urlencode(query)}" if query else url)
        assert page is not None
        return page

    def ask(
        self,
        who: str,
        url: str,
        data: Values | None = None,
        *,
        fault: str = FINE,
        follow: bool = False,
    ) -> Page | None:
        """The answer, of a redirect what it leads to if asked for; None where the program was
        killed over it."""
        client = self.clients[who]
        self.has_stumbled |= fault == STUMBLES
        try:
            with befalls(fault):
                answer = (
                    client.get(url, follow=True)
                    if data is None
                    else client.post(url, data, follow=follow)
                )
        except SystemExit:
            assert fault == STOPS
            return None
        assert answer.status_code < 500, (who, url, data, cause_of(answer))
        page = page_of(answer.request["PATH_INFO"], answer)
        self.look_for_leaks(who, page)
        return page

    def look_for_leaks(self, who: str, page: Page) -> None:
        work = self.world.work_of(who) if who in STUDENTS and page.forms else None
        if work is not None:
            assert leaks_in(page.text, work) == [], page.url

    def post(
        self, who: str, name: str, *args: Any, fault: str = FINE, **data: Any
    ) -> Page | None:
        """Sent to the address, whatever page it should have come from."""
        values = {key: v if isinstance(v, list) else [str(v)] for key, v in data.items()}
        return self.ask(who, reverse(name, args=args), values, fault=fault)

    def send(self, who: str, form: Form, fault: str = FINE, **typed: Any) -> Page | None:
        """A form as the page has it, with these fields filled in, by its first button."""
        button = form.buttons[0] if form.buttons else None
        return self.ask(who, form.url, form.filled(button, **typed), fault=fault)

    def do(
        self, who: str, page: Page, goes_to: str, *args: Any, fault: str = FINE, **typed: Any
    ) -> Page | None:
        """The page's form; where it offers none, the same asked of the address."""
        forms = page.forms_to(goes_to)
        if forms:
            return self.send(who, forms[0], fault, **typed)
        return self.post(who, goes_to, *args, fault=fault, **typed)

    # ---- at the bench -----------------------------------------------------------------------

    def entry_of(self, who: str, kind: str, chance: Random) -> tuple[Form, Entry] | None:
        """A form of the bench of this kind, filled in somehow; None where the page has none."""
        work = self.world.work_of(who)
        if work is None or work.bench_record is None:
            return None
        page = "show-bench" if kind in ON_THE_BENCH_PAGE else "show-offline-bench"
        forms = self.get(who, page, work.public_id).entries(kind)
        if not forms:
            return None
        form = chance.choice(forms)
        return form, self.entry(who, work, form, chance)

    def entry(self, who: str, work: Work, form: Form, chance: Random, **typed: str) -> Entry:
        """What the device keeps of a form that is filled in."""
        fields = self.fill(form, chance) | {name: [value] for name, value in typed.items()}
        kind, about = form.said.get("data-entry", ""), form.said.get("data-about", "")
        made = Entry(who, work.public_id, kind, about, fields)
        self.tokens.append(made.token)
        return made

    def fill(self, form: Form, chance: Random) -> Values:
        """As somebody in a hurry fills it in: mostly well."""
        self.sent += 1
        token = str(uuid5(NAMESPACE_OID, f"machine {self.sent}"))
        at, offset = chance.choice(CLOCKS)
        button = chance.choice(form.buttons) if form.buttons else None
        typed: dict[str, Any] = {}
        for name, offered in form.offered.items():
            if offered and (name not in form.values or chance.random() < 0.2):
                typed[name] = chance.choice(offered)
        for name, said in form.typed.items():
            if not form.values[name][0] or chance.random() < 0.2:
                typed[name] = chance.choice(self.choices_for(said))
        if form.said.get("data-entry") in ("weighing", "correct") and "mass" in form.typed:
            kind = typed.get("kind", form.values.get("kind", ["tare"])[0])
            typed["mass"] = chance.choice(MASSES[kind])
        if "reason" in form.typed:
            typed["reason"] = "misread"
        clock = {"client_token": token, "device_at": at, "device_offset_s": offset}
        return form.filled(button, **typed, **clock)

    def choices_for(self, said: dict[str, str]) -> tuple[str, ...]:
        return {"decimal": NUMBERS, "numeric": COUNTS}.get(said.get("inputmode", ""), WORDS)

    def note_saved(self, entry: Entry) -> None:
        """The server has said that it is in the record."""
        rows = rows_of(entry.token)
        assert rows, ("acknowledged, and not in the record", entry)
        person = self.world.people[entry.owner]
        assert all(row.by_id == person.pk for row in rows), ("under another name", entry)
        self.acknowledged[entry.token] = (entry.owner, [content_of(row) for row in rows])

    def record_at_once(self, who: str, form: Form, entry: Entry, was_shut: bool) -> None:
        before = count_entries()
        page = self.ask(who, form.url, entry.fields, follow=True)
        assert page is not None
        if was_shut:
            assert count_entries() == before, ("stored after the lock", entry)
        took_back = entry.kind == "mark" and entry.fields["mark"] == ["open"]
        if page.status == 200 and not page.complaints and not took_back:
            self.note_saved(entry)


def cause_of(answer: Any) -> str:
    """Where a page failed, and with what."""
    raised = getattr(answer, "exc_info", None)
    return "".join(format_exception(*raised)[-3:]) if raised else ""


def content_of(row: Reading | BenchStep) -> str:
    """All that a row says, in words."""
    fields = {f.attname: getattr(row, f.attname) for f in row._meta.concrete_fields}
    return repr(sorted((name, str(value)) for name, value in fields.items()))
