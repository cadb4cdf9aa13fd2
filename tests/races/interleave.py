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
from time import monotonic, sleep
from typing import Any

from django.db import connection

Act = Callable[[], Any]
GIVE_UP_S = 20.0
_WEIGHTY = re.compile(r"\s*(INSERT|UPDATE|DELETE)|.*\bFOR (NO KEY )?UPDATE", re.DOTALL)


@dataclass(frozen=True)
class Outcome:
    """What came of one side: what it gave or raised, and how many points it went through."""

    value: Any
    error: BaseException | None
    points: int


class Side:
    """One of the two."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(1)
        self._pool.submit(self._connect).result()
        self._points, self._stop_at = 0, 0
        self.stopped, self._go = threading.Event(), threading.Event()
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
        if _WEIGHTY.match(sql):
            self._stop()
        return execute(sql, params, many, context)

    def _stop(self) -> None:
        self._points += 1
        if self._points == self._stop_at:
            self.stopped.set()
            self._go.wait(GIVE_UP_S)

    def start(self, act: Act, stop_at: int) -> None:
        """Act, and stop before the point of this number; 0 stops nowhere."""
        self._points, self._stop_at = 0, stop_at
        self.stopped.clear()
        self._go.clear()
        self._acting = self._pool.submit(self._act, act)

    def _act(self, act: Act) -> Outcome:
        try:
            return Outcome(act(), None, self._points)
        except Exception as error:
            return Outcome(None, error, self._points)

    def go_on(self) -> None:
        self._go.set()

    def is_through(self) -> bool:
        return self._acting.done()

    def outcome(self) -> Outcome:
        return self._acting.result(GIVE_UP_S)

    def close(self) -> None:
        self._pool.submit(lambda: connection.close()).result()  # noqa: PLW0108 - of that thread
        self._pool.shutdown()


class Pair:
    """The two sides, used for many rounds."""

    def __init__(self) -> None:
        self.sides = Side(), Side()

    def run(self, one: Act, other: Act, at: int, then: int) -> tuple[Outcome, Outcome]:
        """`one` stops before its point `at`; `other` goes up to its point `then` (0: to its end);
        then `one` goes on to its end, then `other`."""
        a, b = self.sides
        a.start(one, at)
        self._until_it_rests(a)
        b.start(other, then)
        self._until_it_rests(b)
        a.stopped.clear()
        a.go_on()
        self._until_it_rests(a)
        b.go_on()
        return a.outcome(), b.outcome()

    def _until_it_rests(self, side: Side) -> None:
        """Stopped, through, or waiting for a lock that the other one holds."""
        end, turn = monotonic() + GIVE_UP_S, 0
        while not (side.stopped.is_set() or side.is_through()):
            turn += 1
            if turn % 4 == 0 and self._waits(side):
                return
            if monotonic() > end:
                raise TimeoutError("it neither goes on nor waits for the other")
            sleep(0.001)

    def _waits(self, side: Side) -> bool:
        with connection.cursor() as cursor:
            cursor.execute("SELECT cardinality(pg_blocking_pids(%s))", [side.pid])
            return bool(cursor.fetchone()[0])

    def close(self) -> None:
        for side in self.sides:
            side.close()
