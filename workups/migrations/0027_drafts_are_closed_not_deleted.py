from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workups", "0026_readings_within_their_bounds")]

    operations = [
        migrations.AddField(
            model_name="exercisedraft",
            name="closed_at",
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AlterField(
            model_name="exercisedraft",
            name="base",
            field=models.ForeignKey(
                blank=True,
                help_text="The revision that this began as, or was published as.",
                null=True,
                on_delete=models.deletion.PROTECT,
                related_name="drafts",
                to="workups.exerciserevision",
            ),
        ),
    ]
