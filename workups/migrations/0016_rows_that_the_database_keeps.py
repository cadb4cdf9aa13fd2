from django.db import migrations

from workups.append_only_triggers import FUNCTION, drop_triggers, create_triggers

TABLES = (
    "workups_assessmentsnapshot",
    "workups_auditentry",
    "workups_benchstep",
    "workups_benchtick",
    "workups_comparedmark",
    "workups_holdclearance",
    "workups_ownexercise",
    "workups_planrevision",
    "workups_pointadjustment",
    "workups_reading",
    "workups_reviewcomment",
    "workups_selfcheck",
    "workups_sheettyping",
)


def put_up(apps, schema_editor):
    for statement in create_triggers(schema_editor.connection, TABLES):
        schema_editor.execute(statement)


def take_down(apps, schema_editor):
    for statement in drop_triggers(schema_editor.connection, TABLES):
        schema_editor.execute(statement)
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(f"DROP FUNCTION IF EXISTS {FUNCTION}()")


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0015_sessions_know_whose_they_are'),
    ]

    operations = [
        migrations.RunPython(put_up, take_down),
    ]
