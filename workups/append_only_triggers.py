"""Append-only triggers: the database itself refuses to change or remove rows of such tables.

The models refuse too, but raw SQL, an upsert or a manager of Django's own goes past them. Whoever
owns the database can drop a trigger; nobody does so by mistake.

For migrations, which run the statements one after the other. A migration that rebuilds a guarded
table (on SQLite nearly every change of a column does) creates the triggers again at its end, and
one that has to change rows drops them before.
"""

from collections.abc import Iterable, Iterator

from django.db.backends.base.base import BaseDatabaseWrapper

FUNCTION = "workups_refuse_change"
_POSTGRESQL_FUNCTION = f"""
CREATE OR REPLACE FUNCTION {FUNCTION}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  -- restrict_violation, which Django knows as an IntegrityError
  RAISE EXCEPTION USING ERRCODE = '23001',
    MESSAGE = 'rows of ' || TG_TABLE_NAME || ' are only ever added';
END
$$
"""


def create_triggers(connection: BaseDatabaseWrapper, tables: Iterable[str]) -> Iterator[str]:
    """Statements after which rows of these tables are only ever added."""
    names = list(tables)
    yield from drop_triggers(connection, names)
    if connection.vendor == "postgresql":
        yield _POSTGRESQL_FUNCTION
        for table in names:
            yield from _on_postgresql(table)
    elif connection.vendor == "sqlite":
        for table in names:
            yield from _on_sqlite(table)


def drop_triggers(connection: BaseDatabaseWrapper, tables: Iterable[str]) -> Iterator[str]:
    """Statements after which they can be changed and removed again."""
    for table in tables:
        where = f' ON "{table}"' if connection.vendor == "postgresql" else ""
        for name in _names(table):
            yield f'DROP TRIGGER IF EXISTS "{name}"{where}'


def _names(table: str) -> tuple[str, str]:
    return f"{table}_kept", f"{table}_not_emptied"


def _on_sqlite(table: str) -> Iterator[str]:
    for name, event in zip(_names(table), ("UPDATE", "DELETE"), strict=True):
        yield (
            f'CREATE TRIGGER "{name}" BEFORE {event} ON "{table}" '
            f"BEGIN SELECT RAISE(ABORT, 'rows of {table} are only ever added'); END"
        )


def _on_postgresql(table: str) -> Iterator[str]:
    """TRUNCATE removes rows without looking at them, so there is a trigger for the whole table."""
    kept, not_emptied = _names(table)
    yield (
        f'CREATE TRIGGER "{kept}" BEFORE UPDATE OR DELETE ON "{table}" '
        f"FOR EACH ROW EXECUTE FUNCTION {FUNCTION}()"
    )
    yield (
        f'CREATE TRIGGER "{not_emptied}" BEFORE TRUNCATE ON "{table}" '
        f"FOR EACH STATEMENT EXECUTE FUNCTION {FUNCTION}()"
    )
