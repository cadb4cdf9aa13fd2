"""Two who act at the same moment, stopped and let go at chosen points of their transactions.

Each acts in a thread with a connection of its own. A point is what another one can come between:
right before a lock of rows is asked for, before a row is written, and before a commit. One stops
there until the other is through, stops at a point of its own, or waits for a lock that the first
one holds. With two points, one in each, nearly every order of two short transactions is reached.

For PostgreSQL: SQLite has one lock for all, taken as a transaction begins.
"""

import re
import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from time import monotonic
from typing import Any

from django.db import connection

Act = Callable[[], Any]
GIVE_UP_S = 20.0
_WEIGHTY = re.compile(r"\s*(INSERT|UPDATE|DELETE)|.*\bFOR (NO KEY )?UPDATE", re.DOTALL)
_WRITES = re.compile(r'\s*(?:INSERT INTO|UPDATE|DELETE FROM) "(\w+)"')
_READS = re.compile(r'\b(?:FROM|JOIN) "(\w+)"')
# Only added to, and read by no service: nothing can come between by it.
LOG = "workups_auditentry"


@dataclass(frozen=True)
class Outcome:
    """What came of one side: what it gave or raised, and the tables that it read and wrote."""

    value: Any
    error: BaseException | None
    read: frozenset[str]
    wrote: frozenset[str]

    def is_apart_from(self, other: "Outcome") -> bool:
        """Neither writes to a table that the other reads or writes, so that no order of the two
        differs from another."""
        mine, theirs = self.wrote - {LOG}, other.wrote - {LOG}
        return not (mine & (other.read | theirs) or theirs & self.read)


class Side:
    """One of the two."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(1)
        self._pool.submit(self._connect).result()
        self._points, self._stop_at = 0, 0
        self._read, self._wrote = set[str](), set[str]()
        self.stopped, self.rests, self._go = (threading.Event() for _ in range(3))
        self._acting: Future[Outcome] = Future()

    def _connect(self) -> None:
        connection.ensure_connection()
        with connection.cursor() as cursor:
            cursor.execute("SET deadlock_timeout = '30ms'")
            cursor.execute("SELECT pg_backend_pid()")
            self.pid = cursor.fetchone()[0]
        commit = connection.commit

        def stop_and_commit() -> None:
            self._stop()
            commit()

        connection.commit = stop_and_commit  # type: ignore[method-assign]
        connection.execute_wrappers.append(self._look)

    def _look(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        written = _WRITES.match(sql)
        if _WEIGHTY.match(sql) and not (written and written[1] == LOG):
            self._stop()
        self._wrote |= {written[1]} if written else set()
        self._read |= set(_READS.findall(sql))
        return execute(sql, params, many, context)

    def _stop(self) -> None:
        self._points += 1
        if self._points == self._stop_at:
            self.stopped.set()
            self.rests.set()
            self._go.wait(GIVE_UP_S)

    def start(self, act: Act, stop_at: int) -> None:
        """Act, and stop before the point of this number; 0 stops nowhere."""
        self._points, self._stop_at = 0, stop_at
        self._read, self._wrote = set(), set()
        for event in (self.stopped, self.rests, self._go):
            event.clear()
        self._acting = self._pool.submit(self._act, act)

    def _act(self, act: Act) -> Outcome:
        value, raised = None, None
        try:
            value = act()
        except Exception as error:
            raised = error
        self.rests.set()
        return Outcome(value, raised, frozenset(self._read), frozenset(self._wrote))

    def go_on(self) -> None:
        if self.stopped.is_set():
            self.rests.clear()
        self._go.set()

    def outcome(self) -> Outcome:
        return self._acting.result(GIVE_UP_S)

    def close(self) -> None:
        self._pool.submit(lambda: connection.close()).result()  # noqa: PLW0108 - of that thread
        self._pool.shutdown()


class Pair:
    """The two sides, used for many rounds."""

    def __init__(self) -> None:
        self.sides = Side(), Side()
        self.one_came_to_it = self.other_came_to_it = False

    def alone(self, act: Act) -> Outcome:
        """With nobody beside."""
        self.sides[0].start(act, 0)
        return self.sides[0].outcome()

    def run(self, one: Act, other: Act, at: int, then: int) -> tuple[Outcome, Outcome]:
        """`one` stops before its point `at`; `other` goes up to its point `then` (0: to its end);
        then `one` goes on to its end, then `other`.

        `one_came_to_it` and `other_came_to_it` say whether they did stop at these points; if not,
        any later point would have made the same round.
        """
        a, b = self.sides
        a.start(one, at)
        self._until_it_rests(a)
        self.one_came_to_it = a.stopped.is_set()
        b.start(other, then)
        self._until_it_rests(b)
        self.other_came_to_it = b.stopped.is_set()
        a.go_on()
        self._until_it_rests(a)
        b.go_on()
        return a.outcome(), b.outcome()

    def _until_it_rests(self, side: Side) -> None:
        """Stopped, through, or waiting for a lock that the other one holds."""
        end = monotonic() + GIVE_UP_S
        while not side.rests.wait(0.01):
            if self._waits(side):
                return
            if monotonic() > end:
                raise TimeoutError("it neither goes on nor waits for the other")

    def _waits(self, side: Side) -> bool:
        with connection.cursor() as cursor:
            cursor.execute("SELECT cardinality(pg_blocking_pids(%s))", [side.pid])
            return bool(cursor.fetchone()[0])

    def close(self) -> None:
        for side in self.sides:
            side.close()
