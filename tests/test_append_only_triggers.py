"""What only grows: the database refuses what goes past the models, on SQLite and PostgreSQL."""

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction

from workups.models import AppendOnlyModel, AuditEntry, PointAdjustment
from workups.services.audit import record_audit

GUARDED = [model for model in apps.get_models() if issubclass(model, AppendOnlyModel)]


@pytest.fixture
def entry(course, instructor):
    return record_audit(actor=instructor, action="release-report", subject=course, course=course)


def execute(sql, *values):
    with connection.cursor() as cursor:
        cursor.execute(sql, values)


def refused():
    return pytest.raises(IntegrityError, match=r"only ever added|UNIQUE|unique")


FORGED = {"actor_name": "Nobody", "action": "forged"}
WAYS = {
    "a manager without our rules": lambda _: AuditEntry._base_manager.update(action="forged"),
    "its delete": lambda e: AuditEntry._base_manager.filter(pk=e.pk).delete(),
    "a raw delete": lambda e: AuditEntry.objects.filter(pk=e.pk)._raw_delete("default"),
    "a row saved under a known key": lambda e: AuditEntry(pk=e.pk, **FORGED).save(),
    "an upsert": lambda e: AuditEntry.objects.bulk_create(
        [AuditEntry(pk=e.pk, **FORGED)],
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=["action"],
    ),
    "SQL": lambda _: execute("UPDATE workups_auditentry SET action = %s", "forged"),
    "SQL that removes": lambda _: execute("DELETE FROM workups_auditentry"),
}


@pytest.mark.parametrize("way", WAYS)
def test_no_way_past_the_models_changes_or_removes_an_entry(entry, way):
    with refused(), transaction.atomic():
        WAYS[way](entry)
    assert AuditEntry.objects.get(pk=entry.pk).action == "release-report"


def test_rows_are_neither_replaced_nor_emptied_out(entry):
    if connection.vendor == "postgresql":
        execute("SET CONSTRAINTS ALL IMMEDIATE")
        sql = "TRUNCATE workups_auditentry"
    else:
        sql = """
            INSERT OR REPLACE INTO workups_auditentry
                (id, at, actor_name, action, object_type, object_id, object_text, details)
            SELECT id, at, actor_name, 'forged', '', '', '', '{}' FROM workups_auditentry
        """
    with refused(), transaction.atomic():
        execute(sql)
    assert AuditEntry.objects.get(pk=entry.pk).action == "release-report"


def triggers():
    if connection.vendor == "postgresql":
        sql = "SELECT tgrelid::regclass::text, tgname FROM pg_trigger WHERE NOT tgisinternal"
    else:
        sql = "SELECT tbl_name, name FROM sqlite_master WHERE type = 'trigger'"
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return set(cursor.fetchall())


@pytest.mark.parametrize("model", GUARDED, ids=lambda model: model.__name__)
def test_every_append_only_table_is_guarded_after_all_migrations(db, model):
    """A new table needs the guard, and one that a migration has rebuilt needs it again."""
    table = model._meta.db_table
    assert {(table, f"{table}_kept"), (table, f"{table}_not_emptied")} <= triggers()


def test_only_append_only_tables_are_guarded(db):
    assert {table for table, _ in triggers()} == {model._meta.db_table for model in GUARDED}
    assert PointAdjustment in GUARDED
