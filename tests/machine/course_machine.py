"""Students, a TA, instructors and the clock over a small course, in any order, by their pages.

A rule is one thing that somebody does. What a page does not offer is asked of its address all the
same, as by a page that was left open. After each rule everything in `invariants` has to hold; at
the end time goes by, and every page of everybody is looked at.
"""

from contextlib import nullcontext, suppress
from datetime import timedelta

from django.core.management import CommandError, call_command
from django.template.defaultfilters import floatformat
from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, precondition, rule

from tests.machine.base import faults, students
from tests.machine.faults import FINE
from tests.machine.invariants import check_all, check_people
from tests.machine.player import cause_of
from tests.machine.staff import StaffRules
from tests.machine.students import StudentRules
from tests.machine.world import PLAN_DUE, REPORT_DUE, STUDENTS
from tests.web.walker import name_of, walk_pages
from workups.models import HandIn, Reading, Review, Work
from workups.selectors.marks import marks_of
from workups.selectors.reports import is_released
from workups.selectors.works import readings_are_locked

STAGES = ("draft", "handed in", "at the bench", "weighed", "locked", "reported", "accepted",
          "released")  # fmt: skip
AT_FIRST = st.sampled_from([*STAGES[:-1], *STAGES[3:]])
TO_DO = (Review.State.WAITING, Review.State.IN_REVIEW)
# The same whatever happens in a course, or slow to make.
NOT_WALKED = frozenset({"show-rule", "list-rules", "show-method", "show-exercise-method"})


class CourseMachine(StudentRules, StaffRules):
    nearest, furthest = STAGES[0], STAGES[-1]  # how far anybody is when the machine starts

    # ---- the usual way through the course ----------------------------------------------------

    @initialize(stages=st.tuples(*(AT_FIRST for _ in STUDENTS)), pair=st.booleans())
    def some_are_ahead(self, stages: tuple[str, ...], pair: bool) -> None:
        """Anna and Ben may share a record."""
        for who, stage in zip(STUDENTS, stages, strict=True):
            last = min(STAGES.index(stage), STAGES.index(self.furthest))
            last = max(last, STAGES.index(self.nearest))
            for step in STAGES[1 : last + 1]:
                shares = pair and who == "ben" and self.work("anna").bench_record is not None
                self.bring(who, step, shares)

    def bring(self, who: str, stage: str, shares: bool = False, fault: str = FINE) -> None:
        """One stage further, by whoever does that."""
        if stage == "handed in":
            self.write_plan(who)
            self.hand_in(who, fault=fault)
        elif stage == "at the bench" and shares:
            self.ask_to_share(who, "anna")
            self.answer_next_share()
        elif stage == "at the bench":
            self.begin(who, fault=fault)
        elif stage == "weighed":
            self.weigh(who)
        elif stage == "locked":
            self.lock(who, fault=fault)
        elif stage == "reported":
            self.report(who, fault=fault)
        elif stage == "accepted":
            self.accept(who)
        elif stage == "released":
            self.player.post("ta", "release-section", self.work(who).assignment.public_id)

    def next_stage(self, work: Work) -> str:
        review = Review.objects.filter(work=work).first()
        if review is not None and review.state == Review.State.REVIEWED:
            return "released"
        if review is not None and review.state in TO_DO:
            return "accepted" if work.report_submitted_at else "reported"
        if work.hand_in == HandIn.NOTHING:
            return "handed in"
        if work.bench_record is None:
            return "at the bench"
        weighed = Reading.objects.filter(record=work.bench_record).count() >= 3
        return "locked" if weighed else "weighed"

    def goes_on(self, who: str, fault: str) -> None:
        self.bring(who, self.next_stage(self.work(who)), fault=fault)

    # Three times, so that runs come far.
    goes_on_at_once = rule(who=students, fault=faults)(goes_on)
    goes_on_later = rule(who=students, fault=faults)(goes_on)
    goes_on_after_all = rule(who=students, fault=faults)(goes_on)

    # ---- the clock and the timer -------------------------------------------------------------

    @rule(by=st.sampled_from([1, 6, 120]))
    def minutes_pass(self, by: int) -> None:
        self.pass_time(timedelta(minutes=by))

    @rule()
    def plans_are_due(self) -> None:
        self.pass_until(PLAN_DUE)

    @precondition(lambda self: sum(map(readings_are_locked, self.world.works())) >= 2)
    @rule()
    def reports_are_due(self) -> None:
        self.pass_until(REPORT_DUE)

    @rule(again=st.booleans())
    def the_timer_runs(self, again: bool) -> None:
        may_fail = suppress(CommandError) if self.player.has_stumbled else nullcontext()
        with may_fail:
            call_command("lock_overdue", again=again, verbosity=0)

    # ---- what holds --------------------------------------------------------------------------

    @invariant()
    def all_holds(self) -> None:
        check_all(self.player)
        check_people(self.world)
        self.check_results()

    def check_results(self) -> None:
        """Results that students could see stay where they are."""
        out = {work.pk for work in self.world.works() if is_released(work)}
        assert out >= self.seen_results, "results that were out are gone"
        self.seen_results |= out

    # ---- at the end --------------------------------------------------------------------------

    def settle_and_walk(self) -> None:
        """Nothing is under way any more, marks are shown as they are, and no page fails."""
        self.pass_time(timedelta(minutes=10))
        with suppress(CommandError):
            call_command("lock_overdue", verbosity=0)
        self.all_holds()
        for work in self.world.works():
            assert not work.is_being_assessed, "left unassessed"
            self.check_total(work)
        for who, client in self.player.clients.items():
            for url, answer in walk_pages(client, {}, per_kind=1, leave=is_left_out):
                assert answer.status_code < 500, (who, url, cause_of(answer))

    def check_total(self, work: Work) -> None:
        """The pages of staff and student say the total."""
        marks = marks_of(work)
        if marks is None or not Review.objects.filter(work=work).exists():
            return
        total = str(floatformat(marks.points, 1))
        page = self.player.get("instructor", "review-report", work.public_id)
        assert total in page.text, "another total than the sum"
        if is_released(work):
            who = work.student.sign_in
            assert total in self.player.get(who, "show-report", work.public_id).text


def is_left_out(url: str) -> bool:
    return url.endswith(".pdf") or name_of(url) in NOT_WALKED
