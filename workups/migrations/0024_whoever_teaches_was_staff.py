from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0023_find_what_people_were'),
    ]

    operations = [
        migrations.AddConstraint(
            model_name='enrolment',
            constraint=models.CheckConstraint(condition=models.Q(('role', 'student'), ('was_staff', True), _connector='OR'), name='whoever_teaches_was_staff'),
        ),
    ]
