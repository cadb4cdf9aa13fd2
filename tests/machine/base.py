"""What all rules of the machine stand on: the world as it was built, its clock, its people."""

import sys
from datetime import timedelta
from random import Random

import time_machine
from django.db import transaction
from django.utils import timezone
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine

from tests.machine.faults import FINE, STOPS, STUMBLES
from tests.machine.invariants import is_shut
from tests.machine.pages import Values
from tests.machine.player import Entry, Player
from tests.machine.world import NOW, STUDENTS, World
from workups.models import Work

students = st.sampled_from(STUDENTS)
chances = st.integers(0, 9999).map(Random)
faults = st.sampled_from([FINE, FINE, FINE, STOPS, STUMBLES])


class CourseBase(RuleBasedStateMachine):
    """`world` is built before; whatever a run does to it is taken back when the run ends."""

    world: World
    walks = True

    def __init__(self) -> None:
        super().__init__()
        self.run = transaction.atomic()
        self.run.__enter__()
        self.clock = time_machine.travel(NOW, tick=False)
        self.now = self.clock.start()
        self.player = Player(self.world)
        self.devices: dict[str, list[Entry]] = {name: [] for name in STUDENTS}
        self.left_open: list[tuple[str, str, Values]] = []
        self.seen_results: set[int] = set()

    def teardown(self) -> None:
        try:
            if self.walks and sys.exc_info()[0] is None:
                self.settle_and_walk()
        finally:
            self.clock.stop()
            transaction.set_rollback(True)
            self.run.__exit__(None, None, None)

    def settle_and_walk(self) -> None:
        raise NotImplementedError

    def work(self, who: str) -> Work:
        """A student's work; begun by opening the list of it."""
        work = self.world.work_of(who)
        if work is None:
            self.player.get(who, "list-work", self.world.course.public_id)
            work = self.world.work_of(who)
        assert work is not None
        return work

    def is_shut_for(self, who: str) -> bool:
        record = self.work(who).bench_record
        return record is None or is_shut(record)

    def pass_time(self, by: timedelta) -> None:
        self.now.shift(by)
        self.player.sign_in()

    def pass_until(self, after: timedelta) -> None:
        self.pass_time(max(NOW + after - timezone.now(), timedelta(0)) + timedelta(minutes=1))
