"""Who teaches, and who taught before a roster made them a student: the audit log knows."""

from django.db import migrations


def find_staff(apps, schema_editor):
    AuditEntry = apps.get_model("workups", "AuditEntry")
    Enrolment = apps.get_model("workups", "Enrolment")
    Enrolment.objects.exclude(role="student").update(was_staff=True)
    for entry in AuditEntry.objects.filter(action="apply-roster").iterator():
        taught = [
            person["sign_in"]
            for person in entry.details.get("people", [])
            if person.get("role", "student") != "student"
        ]
        Enrolment.objects.filter(course=entry.course_id, person__sign_in__in=taught).update(
            was_staff=True
        )


def nothing(apps, schema_editor):
    """Going back takes the column itself away."""


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0022_what_people_were'),
    ]

    operations = [
        migrations.RunPython(find_staff, nothing),
    ]
