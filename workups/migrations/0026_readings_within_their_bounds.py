from django.db import migrations, models

from workups.append_only_triggers import create_triggers


def guard_again(apps, schema_editor):
    """SQLite builds the table anew for a constraint, and loses its triggers."""
    for statement in create_triggers(schema_editor.connection, ["workups_reading"]):
        schema_editor.execute(statement)


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0025_partners_ask_to_share'),
    ]

    operations = [
        migrations.RunPython(migrations.RunPython.noop, guard_again),
        migrations.AddConstraint(
            model_name='reading',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(models.Q(('kind', 'tare'), _negated=True), ('value__isnull', True), models.Q(('value__gte', -1000), ('value__lte', 10000)), _connector='OR'), models.Q(models.Q(('kind', 'gross'), _negated=True), ('value__isnull', True), models.Q(('value__gte', -1000), ('value__lte', 10000)), _connector='OR'), models.Q(models.Q(('kind', 'agent mass'), _negated=True), ('value__isnull', True), models.Q(('value__gte', 0), ('value__lte', 1000)), _connector='OR'), models.Q(models.Q(('kind', 'agent portions'), _negated=True), ('value__isnull', True), models.Q(('value__gte', 0), ('value__lte', 100)), _connector='OR'), models.Q(models.Q(('kind', 'drying time'), _negated=True), ('value__isnull', True), models.Q(('value__gte', 0), ('value__lte', 20000)), _connector='OR'), models.Q(models.Q(('kind', 'volume'), _negated=True), ('value__isnull', True), models.Q(('value__gte', 0), ('value__lte', 10000)), _connector='OR'), models.Q(models.Q(('kind', 'reagent'), _negated=True), ('value__isnull', True), models.Q(('value__gte', 0), ('value__lte', 10000)), _connector='OR'), models.Q(models.Q(('kind', 'witness'), _negated=True), ('value__isnull', True), models.Q(('value__gte', -100), ('value__lte', 400)), _connector='OR'), models.Q(models.Q(('kind', 'witness'), _negated=True), ('value_high__isnull', True), models.Q(('value_high__gte', -100), ('value_high__lte', 400)), _connector='OR'), models.Q(models.Q(('kind', 'part'), _negated=True), ('value__isnull', True), models.Q(('value__gte', -1000), ('value__lte', 10000)), _connector='OR'), models.Q(models.Q(('kind', 'part'), _negated=True), ('value_high__isnull', True), models.Q(('value_high__gte', -1000), ('value_high__lte', 10000)), _connector='OR')), name='readings_within_their_bounds', violation_error_message='That is more or less than a reading of this kind can be.'),
        ),
        migrations.RunPython(guard_again, migrations.RunPython.noop),
    ]
