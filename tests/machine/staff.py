"""What a TA and the instructors do: at the door, with reports, exercises and the roster."""

from datetime import timedelta
from random import Random

from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule

from tests.machine.base import CourseBase, chances, faults, students
from tests.machine.invariants import GIVEN, check_begun, is_shut
from tests.machine.player import count_entries, usual
from workups.models import MarkQuery, Review, RevisionMove, Work

# Who, as what, where; with a name and an e-mail that are not theirs.
ROSTER = ("anna,student,Friday B", "ben,student,Friday B", "cleo,student,Tuesday A",
          "ta,student,Tuesday A", "ta,TA,Tuesday A; Friday B", "guest,student,Tuesday A",
          "dora,student,Friday B", "new,student,Friday B")  # fmt: skip


def some_review(**state: str):
    return precondition(lambda _: Review.objects.filter(**state).exists())


class TaRules(CourseBase):
    @rule(who=students, admitted=st.sampled_from(["yes", "yes", "no"]), fault=faults)
    def admit(self, who: str, admitted: str, fault: str) -> None:
        data = {"admitted": admitted}
        self.player.post("ta", "admit-work", self.work(who).public_id, fault=fault, **data)

    @rule(who=students, fault=faults)
    def clear_hold(self, who: str, fault: str) -> None:
        work = self.work(who)
        page = self.player.get("ta", "read-plan", work.public_id)
        said = {"reason": "Small portions."}
        self.player.do("ta", page, "clear-hold", work.public_id, fault=fault, **said)

    @rule(who=students)
    def accept(self, who: str) -> None:
        work = self.work(who)
        page = self.player.get("ta", "review-report", work.public_id)
        may_be = work.is_assessed or Review.objects.filter(work=work, state__in=GIVEN).exists()
        self.player.do("ta", page, "accept-report", work.public_id)
        accepted = Review.objects.filter(work=work, state__in=GIVEN).exists()
        assert may_be or not accepted, "accepted while something is to be assessed"

    @some_review()
    @rule(who=students, chance=chances, take_back=st.booleans())
    def change_points(self, who: str, chance: Random, take_back: bool) -> None:
        """By a check or by a finding that is overruled, or the change taken back."""
        work = self.work(who)
        page = self.player.get("ta", "review-report", work.public_id)
        forms = page.forms_to("take-back-adjustment" if take_back else "adjust-points")
        typed = {} if take_back else {"points": chance.choice(("0", "3.25", "+1", "500"))}
        typed["reason"] = "Seen."
        if not forms:
            typed |= {"check_name": "yield", "points": "3"}
            self.player.post("ta", "adjust-points", work.public_id, **typed)
            return
        form = chance.choice(forms)
        self.player.send("ta", form, **typed)
        self.left_open.append(("ta", form.url, form.filled(**typed)))

    @some_review()
    @rule(who=students)
    def return_report(self, who: str) -> None:
        work = self.work(who)
        page = self.player.get("ta", "review-report", work.public_id)
        said = {"reason": "Weigh again."}
        self.player.do("ta", page, "return-report", work.public_id, **said)

    @some_review()
    @rule(who=students)
    def comment(self, who: str) -> None:
        self.player.post("ta", "comment-report", self.work(who).public_id, text="Look at it.")

    @precondition(lambda _: MarkQuery.objects.exists())
    @rule()
    def answer_questions(self) -> None:
        for query in MarkQuery.objects.filter(answered_at=None):
            self.player.post("ta", "answer-query", query.public_id, answer="As it says.")

    @some_review(state=Review.State.REVIEWED)
    @rule(which=st.integers(0, 3))
    def release(self, which: int) -> None:
        assignments = self.world.assignments()
        url_of = assignments[which % len(assignments)].public_id
        self.player.post("ta", "release-section", url_of)

    @rule(fault=faults)
    def lock_what_is_overdue(self, fault: str) -> None:
        self.player.post("ta", "lock-overdue", self.world.course.public_id, fault=fault)

    @rule(who=students, fault=faults)
    def supply_readings(self, who: str, fault: str) -> None:
        work = self.work(who)
        had = work.bench_record
        before, shut = count_entries(), had is not None and is_shut(had)
        page = self.player.get("ta", "supply-readings", work.public_id)
        for form in page.forms_to("supply-readings")[:1]:
            masses = {n: "47.00" if n.startswith("gross") else "45.00" for n in form.typed}
            entry = self.player.entry("ta", work, form, usual(), **masses | {"reason": "Fell."})
            self.player.ask("ta", form.url, entry.fields, fault=fault)
        assert not shut or count_entries() == before, "supplied after the lock"
        check_begun(self.work(who), had)

    @some_review()
    @rule()
    def leave_reports_open(self) -> None:
        """Pages of reports stay open in tabs, with the points and states that they show."""
        for work in self.world.works():
            page = self.player.get("ta", "review-report", work.public_id)
            for name in ("accept-report", "return-report"):
                for form in page.forms_to(name)[:1]:
                    self.left_open.append(("ta", form.url, form.filled(reason="From before.")))

    @precondition(lambda self: self.left_open)
    @rule(which=st.integers(0, 99))
    def send_what_was_left_open(self, which: int) -> None:
        self.player.ask(*self.left_open.pop(which % len(self.left_open)))


class InstructorRules(CourseBase):
    @rule(who=students, variant=st.booleans(), to_section=st.booleans(), fault=faults)
    def give_variant(self, who: str, variant: bool, to_section: bool, fault: str) -> None:
        work = self.work(who)
        page = self.player.get("instructor", "give-variant", work.assignment.public_id)
        field = "section-variant" if to_section else "variant"
        for form in page.forms:
            if field in form.offered:
                given = {field: form.offered[field][-1 if variant else 0]}
                if not to_section:
                    given |= {"student": own(form.offered["student"], work), "reason": "less"}
                self.player.send("instructor", form, fault, **given)

    @rule(change=st.sampled_from(["emergency", "conversion", "funnel"]), give=st.booleans())
    def publish_again(self, change: str, give: bool) -> None:
        """A corrected revision; `give`: to every section at once, else for who is moved to it."""
        revisions = self.world.course.revisions.order_by("-number")
        newest, who = revisions[0], "instructor"
        if newest.number >= 4:
            return
        self.player.post(who, "revise-exercise", newest.public_id)
        draft = self.world.course.drafts.order_by("-pk")[0]
        page = self.player.get(who, "edit-draft", draft.public_id)
        text = corrected(draft.document, change, newest.number)
        self.player.do(who, page, "edit-draft", draft.public_id, document=text)
        page = self.player.get(who, "publish-exercise", draft.public_id)
        form = page.forms_to("publish-exercise")[0]
        chosen = {n: "on" for n in form.offered if n.endswith("-chosen") and give}
        chosen |= {"guard_reason": "Short on purpose.", "group_size": "2"}
        self.player.send(who, form, **chosen)
        self.player.get(who, "compare-revisions", revisions[0].public_id)

    @precondition(lambda self: self.world.course.revisions.count() > 1)
    @rule(who=students, which=st.integers(0, 3), whole=st.booleans(), fault=faults)
    def move(self, who: str, which: int, whole: bool, fault: str) -> None:
        """To another revision, one alone or the whole bench record: looked at, then done."""
        work = self.work(who)
        page = self.player.get("instructor", "move-students", work.assignment.public_id)
        forms = [f for f in page.forms_to("move-students") if f.offered.get("to")]
        if not forms:
            return
        record = work.bench_record
        moved = list(record.works.all()) if record is not None and whole else [work]
        to = forms[0].offered["to"]
        chosen = {"to": to[which % len(to)], "works": [str(w.public_id) for w in moved]}
        self.player.ask("instructor", forms[0].url, forms[0].filled(**chosen))
        chosen |= {"move": "yes", "reason": "A number was wrong."}
        self.player.ask("instructor", forms[0].url, forms[0].filled(**chosen), fault=fault)

    @precondition(lambda _: RevisionMove.objects.exists())
    @rule(which=st.integers(0, 9), fault=faults)
    def take_back_move(self, which: int, fault: str) -> None:
        moves = list(RevisionMove.objects.order_by("pk"))
        move = moves[which % len(moves)].public_id
        self.player.post("instructor", "take-back-move", move, fault=fault)

    @rule(who=students)
    def extend(self, who: str) -> None:
        work = self.work(who)
        page = self.player.get("instructor", "give-extension", work.assignment.public_id)
        later = (work.assignment.report_due + timedelta(days=1)).strftime("%Y-%m-%dT%H:%M")
        for form in page.forms_to("give-extension")[:1]:
            student = own(form.offered["student"], work)
            self.player.send(
                "instructor", form, student=student, report_due=later, reason="Was ill."
            )

    @some_review(state=Review.State.RELEASED)
    @rule(which=st.integers(0, 3))
    def open_results(self, which: int) -> None:
        assignments = self.world.assignments()
        url_of = assignments[which % len(assignments)].public_id
        self.player.post("instructor", "open-results", url_of, reason="Term ends.")

    @rule(lines=st.lists(st.sampled_from(ROSTER), min_size=1, max_size=2, unique=True))
    def bring_roster(self, lines: list[str]) -> None:
        """By the course's instructor, and by that of another course, who may list anybody too."""
        for by in ("instructor", "outsider"):
            course = self.world.people[by].enrolments.get().course
            rows = [f"Another Name,{line},{line.split(',')[0]}@elsewhere.example" for line in lines]
            text = "\n".join(["name,sign_in,role,section,email", *rows])
            shown = self.player.post(by, "upload-roster", course.public_id, roster_text=text)
            for form in shown.forms_to("upload-roster") if shown else ():
                if form.values.get("digest", [""])[0]:
                    self.player.send(by, form)

    @rule(who=st.sampled_from(["anna", "dora", "ta", "guest"]))
    def make_password_link(self, who: str) -> None:
        """Nobody here may be given one: all have chosen their passwords."""
        for enrolment in self.world.people[who].enrolments.all():
            for by in ("instructor", "outsider"):
                page = self.player.post(by, "make-password-link", enrolment.public_id)
                assert page is not None
                assert page.status in (403, 404), f"a link for {who} to {by}"


class StaffRules(TaRules, InstructorRules):
    pass


def own(offered: list[str], work: Work) -> str:
    """Of the students that a form offers, the one whose work it is; else whoever comes first."""
    ids = (str(work.public_id), str(work.enrolment.public_id))
    return next((v for v in offered if v in ids), offered[0] if offered else "")


def corrected(document: str, change: str, number: int) -> str:
    """The exercise file with one thing otherwise."""
    if change == "conversion":
        return document.replace("nominal = 0.95", f"nominal = 0.9{number}", 1)
    if change == "funnel":
        return document.replace("funnel_mL = 125", "funnel_mL = 250", 1)
    if "emergency =" in document:
        return document.replace('emergency = "', f'emergency = "{number} ', 1)
    return document.replace("[texts]", '[texts]\nemergency = "Call the porter."', 1)
