"""What students do: plan, hand in, work at the bench with and without a network, report."""

from random import Random
from typing import Any

from django.urls import reverse
from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule

from tests.machine.base import CourseBase, chances, faults, students
from tests.machine.faults import FINE
from tests.machine.invariants import check_begun
from tests.machine.player import Entry, cause_of, count_entries, usual
from tests.machine.world import STUDENTS
from workups.models import ShareRequest

KINDS = ("weighing", "weighing", "mark", "change", "add", "part", "witness", "drying", "volume",
         "reagents", "correct", "strike")  # fmt: skip
LONG = "9" * 100_000


class StudentRules(CourseBase):
    # ---- the plan ----------------------------------------------------------------------------

    @rule(
        who=students,
        how=st.sampled_from(["edit", "copy", "remove", "up", "down", "add", "restore"]),
        chance=chances,
    )
    def edit_plan(self, who: str, how: str, chance: Random) -> None:
        work = self.work(who)
        newest = work.plan_revisions.first()
        steps = newest.data["steps"] if newest else []
        if how == "restore" or not steps:
            versions = {"version": newest.version if newest else 0, "to_version": 1}
            self.player.post(who, "restore-plan", work.public_id, **versions)
        elif how == "edit":
            volume = chance.choice(("0.1", "25", "40", "none", LONG))
            poured = [s for s in steps if "volume_mL" in {**s, **s.get("typed", {})}] or steps
            self.fill_step(who, chance.choice(poured)["id"], volume_mL=volume)
        else:
            page = self.player.get(who, "build-plan", work.public_id)
            taps = [(f, b) for f in page.forms for b in f.buttons if b.does(how)]
            if taps:
                form, button = chance.choice(taps)
                self.player.ask(who, form.url, form.filled(button))

    def fill_step(self, who: str, step: str, **typed: str) -> None:
        page = self.player.get(who, "build-plan", self.work(who).public_id, step=step)
        for form in page.forms:
            if form.values.get("do") == [f"edit:{step}"]:
                self.player.send(who, form, **typed)

    @rule(who=students, fault=faults)
    def check_plan(self, who: str, fault: str) -> None:
        self.player.post(who, "self-check", self.work(who).public_id, fault=fault)

    @rule(who=students)
    def fill_reagents(self, who: str) -> None:
        page = self.player.get(who, "fill-reagents", self.work(who).public_id)
        for form in page.forms_to("fill-reagents")[:1]:
            self.player.send(who, form, **dict.fromkeys(list(form.typed)[:2], "1.5"))

    @rule(who=students, fault=faults)
    def hand_in(self, who: str, fault: str = FINE) -> None:
        work = self.work(who)
        page = self.player.get(who, "submit-plan", work.public_id)
        stale = {} if page.forms_to("submit-plan") else {"version": "1"}
        self.player.do(who, page, "submit-plan", work.public_id, fault=fault, **stale)

    def write_plan(self, who: str) -> None:
        """One step by the builder's forms, where there is no plan yet."""
        work = self.work(who)
        if work.plan_revisions.exists():
            return
        page = self.player.get(who, "build-plan", work.public_id)
        taps = [(f, b) for f in page.forms for b in f.buttons if b.value == "add:cool"]
        form, button = taps[0]
        self.player.ask(who, form.url, form.filled(button))
        step = work.plan_revisions.first().data["steps"][0]["id"]
        self.fill_step(who, step, flask="reaction flask", to_C="20")

    # ---- the bench and its partners ----------------------------------------------------------

    @rule(who=students, fault=faults)
    def begin(self, who: str, fault: str = FINE) -> None:
        work = self.work(who)
        self.player.post(who, "start-bench", work.public_id, fault=fault)
        check_begun(self.work(who), work.bench_record)

    @rule(who=students, partner=students)
    def ask_to_share(self, who: str, partner: str) -> None:
        code = self.work(partner).bench_code
        self.player.post(who, "join-bench", self.work(who).public_id, code=code)

    @precondition(lambda _: ShareRequest.objects.filter(granted=None, record__isnull=False))
    @rule(grant=st.booleans())
    def answer_share(self, grant: bool) -> None:
        self.answer_next_share(grant)

    def answer_next_share(self, grant: bool = True) -> None:
        asked = ShareRequest.objects.filter(granted=None, record__isnull=False).first()
        owner = asked.record.works.first() if asked else None
        if owner is None:
            return
        page = self.player.get(owner.student.sign_in, "show-bench", owner.public_id)
        for form in page.forms_to("answer-share")[:1]:
            asked = ShareRequest.objects.get(public_id=form.values["asked"][0])
            assert asked.record_id == owner.bench_record_id
            if grant:
                self.player.let_in.add((asked.work_id, asked.record_id))
            said = {"grant": "yes" if grant else "no"}
            self.player.ask(owner.student.sign_in, form.url, form.filled(**said))

    @rule(who=students, by=st.sampled_from(["student", "ta"]))
    def part(self, who: str, by: str) -> None:
        """A partner leaves, or is taken out of the record as absent."""
        work = self.work(who)
        if by == "ta":
            self.player.post("ta", "part-partner", work.public_id, reason="absent")
        else:
            self.player.post(who, "leave-bench", work.public_id, reason="another partner")

    # ---- entries of the bench ----------------------------------------------------------------

    @rule(who=students, kind=st.sampled_from(KINDS), chance=chances, twice=st.booleans())
    def record(self, who: str, kind: str, chance: Random, twice: bool) -> None:
        made = self.player.entry_of(who, kind, chance)
        for _ in range(2 if twice else 1):
            if made is not None:
                self.player.record_at_once(who, *made, self.is_shut_for(who))

    def weigh(self, who: str) -> None:
        """A tare and two gross readings that agree."""
        work = self.work(who)
        if work.bench_record is None:
            return
        for form in self.player.get(who, "show-bench", work.public_id).entries("weighing")[:1]:
            for kind, mass in (("tare", "45.30"), ("gross", "47.12"), ("gross", "47.12")):
                entry = self.player.entry(who, work, form, usual(), kind=kind, mass=mass)
                self.player.record_at_once(who, form, entry, self.is_shut_for(who))

    @rule(who=students, kind=st.sampled_from(KINDS), chance=chances, lost=st.booleans())
    def record_without_network(self, who: str, kind: str, chance: Random, lost: bool) -> None:
        """The device keeps it; `lost`: it reached the server, whose answer did not come back."""
        made = self.player.entry_of(who, kind, chance)
        if made is None:
            return
        form, entry = made
        self.devices[who].append(entry)
        if lost:
            self.player.ask(who, form.url, entry.fields)

    @precondition(lambda self: any(self.devices.values()))
    @rule(
        signed_in=st.sampled_from(("owner", "owner", *STUDENTS)),
        order=st.sampled_from(["as it was", "backwards", "twice"]),
        into=st.sampled_from(("its own", "its own", *STUDENTS)),
    )
    def replay(self, signed_in: str, order: str, into: str) -> None:
        """A device sends what it has kept. Somebody else may be signed in on it by now; and a page
        may send it to another work than it was made for."""
        owner = next(name for name in STUDENTS if self.devices[name])
        entries = list(self.devices[owner])
        if order == "backwards":
            entries.reverse()
        for entry in entries * (2 if order == "twice" else 1):
            to = entry.work_id if into == "its own" else self.work(into).public_id
            self.replay_one(entry, owner if signed_in == "owner" else signed_in, to)

    def replay_one(self, entry: Entry, by: str, work_id: Any) -> None:
        shut, before = self.is_shut_for(by), count_entries()
        client, url = self.player.clients[by], reverse("replay-entry", args=[work_id])
        answer = client.post(url, entry.as_sent())
        assert answer.status_code < 500, (entry, cause_of(answer))
        said = answer.json() if answer.status_code == 200 else {"outcome": "refused"}
        if shut or (by != entry.owner and work_id == entry.work_id):
            assert count_entries() == before, ("stored all the same", entry)
        if by != entry.owner and work_id != entry.work_id and said["outcome"] == "saved":
            # Sent as an entry of the other's own: it is theirs, and no longer on this device.
            self.devices[entry.owner] = [e for e in self.devices[entry.owner] if e is not entry]
            return
        if said["outcome"] == "saved":
            if said["tokens"]:
                self.player.note_saved(entry)
            self.devices[entry.owner] = [e for e in self.devices[entry.owner] if e is not entry]
        elif said["outcome"] == "changed":
            entry.learns_of(said["tokens"])

    # ---- the report --------------------------------------------------------------------------

    @rule(who=students, fault=faults)
    def lock(self, who: str, fault: str = FINE) -> None:
        self.player.post(who, "lock-readings", self.work(who).public_id, fault=fault)

    @rule(who=students, words=st.sampled_from(["", "A little was lost."]), fault=faults)
    def report(self, who: str, words: str = "Fine.", fault: str = FINE) -> None:
        work = self.work(who)
        page = self.player.get(who, "show-report", work.public_id)
        said = {"explanation": words} if words else {"explanation": "", "empty": "yes"}
        self.player.do(who, page, "submit-report", work.public_id, fault=fault, **said)

    @precondition(lambda self: self.seen_results)
    @rule(who=students)
    def ask_about_a_mark(self, who: str) -> None:
        asked = {"text": "Why?", "check_name": "order"}
        self.player.post(who, "query-mark", self.work(who).public_id, **asked)
