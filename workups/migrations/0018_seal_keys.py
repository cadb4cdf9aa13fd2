from django.db import migrations

from workups.services.sealing import seal, unseal


def about(step):
    return f"second step of {step.person.public_id}"


def seal_keys(apps, schema_editor):
    for step in apps.get_model("workups", "SecondStep").objects.select_related("person"):
        step.sealed_key = seal(step.sealed_key, about=about(step))
        step.save(update_fields=["sealed_key"])


def open_keys(apps, schema_editor):
    """Stops at a key that cannot be read. Recovery codes salted apart from the key go."""
    for step in apps.get_model("workups", "SecondStep").objects.select_related("person"):
        step.sealed_key = unseal(step.sealed_key, about=about(step))
        step.save(update_fields=["sealed_key"])
        if step.recovery_salt:
            step.recovery_codes.all().delete()


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0017_room_for_sealed_keys'),
    ]

    operations = [
        migrations.RunPython(seal_keys, open_keys),
    ]
