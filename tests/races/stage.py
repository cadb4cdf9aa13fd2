"""The database as it stood when a stage was set, put back before every round."""

from collections.abc import Collection

from django.apps import apps
from django.db import connection

SCHEMA = "races_stage"


class Stage:
    """Copies of all rows beside the tables, so that putting them back takes milliseconds."""

    def __init__(self) -> None:
        labels = ("workups", "axes")
        models = [m for m in apps.get_models(include_auto_created=True) if m._meta.managed]
        tables = sorted({m._meta.db_table for m in models if m._meta.app_label in labels})
        self._tables = tables
        with connection.cursor() as cursor:
            cursor.execute(f"DROP SCHEMA IF EXISTS {SCHEMA} CASCADE; CREATE SCHEMA {SCHEMA}")
            for table in tables:
                cursor.execute(f'CREATE TABLE {SCHEMA}."{table}" AS TABLE public."{table}"')

    def put_back(self, written: Collection[str] | None = None) -> None:
        """All tables, or those of them that were written to since."""
        tables = [name for name in self._tables if written is None or name in written]
        # As a replica it fires no trigger: neither those that guard rows nor foreign keys.
        statements = [
            "BEGIN",
            "SET LOCAL session_replication_role = replica",
            *(f'DELETE FROM public."{table}"' for table in tables),  # noqa: S608
            *(f'INSERT INTO public."{table}" TABLE {SCHEMA}."{table}"' for table in tables),
            "COMMIT",
        ]
        with connection.cursor() as cursor:
            cursor.execute("; ".join(statements))

    def close(self) -> None:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP SCHEMA {SCHEMA} CASCADE")
