"""In what order a transaction takes rows, by `hold` and by writing them.

Two that take the same rows in different orders wait for each other, and PostgreSQL ends one of
them with an error. Races meet that seldom; here every test that runs a service shows its order.
A row that the transaction has already is nothing new, nor one that it made.

For PostgreSQL, where a row that is held can be seen by its SQL.
"""

import re
from typing import Any

from django.apps import apps

from workups.services.holding import ORDER

_HOLDS = re.compile(r'\s*SELECT .* FROM "(\w+)" WHERE "\w+"\."id" = %s .*FOR NO KEY UPDATE', re.S)
_WRITES = re.compile(r'\s*(?:UPDATE|DELETE FROM) "(\w+)"')
_BY_KEY = re.compile(r'WHERE "\w+"\."id" = %s\s*$')
_MAKES = re.compile(r'\s*INSERT INTO "(\w+)"')


class Watched:
    """An execute wrapper; `backwards` is every row that was taken out of the order.

    Tests run in a transaction of their own, so that one of the program is a savepoint.
    """

    def __init__(self) -> None:
        tables = [apps.get_model("workups", name)._meta.db_table for name in ORDER]
        self._ranks = {table: rank for rank, table in enumerate(tables)}
        self._depth = 0
        self._taken: set[tuple[int, int]] = set()
        self._made: set[str] = set()
        self.backwards: list[str] = []

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.startswith("SAVEPOINT"):
            self._enter()
        elif sql.startswith("RELEASE SAVEPOINT"):
            self._depth -= 1
        elif made := _MAKES.match(sql):
            self._made.add(made[1])
        elif held := _HOLDS.match(sql):
            self._take(held[1], params[0])
        elif written := _WRITES.match(sql):
            self._take(written[1], params[-1] if _BY_KEY.search(sql) else 0)
        return execute(sql, params, many, context)

    def _enter(self) -> None:
        if self._depth == 0:
            self._taken, self._made = set(), set()
        self._depth += 1

    def _take(self, table: str, key: int) -> None:
        if self._depth == 0 or table not in self._ranks or table in self._made:
            return
        row = self._ranks[table], key
        if key and self._taken and row not in self._taken and row < max(self._taken):
            self.backwards.append(f"{ORDER[row[0]]} {key} after {ORDER[max(self._taken)[0]]}")
        self._taken.add(row)
