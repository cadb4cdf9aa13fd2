from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workups", "0027_drafts_are_closed_not_deleted")]

    operations = [
        migrations.AddField(
            model_name="work",
            name="checking_since",
            field=models.DateTimeField(
                blank=True,
                editable=False,
                help_text="Since when a self-check is computing.",
                null=True,
            ),
        ),
        migrations.AddField(
            model_name="work",
            name="checks_cut_short",
            field=models.PositiveIntegerField(
                default=0,
                editable=False,
                help_text="Self-checks that the server stopped; they count.",
            ),
        ),
    ]
