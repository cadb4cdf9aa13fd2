from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workups", "0028_self_checks_that_were_cut_short")]

    operations = [
        migrations.AddField(
            model_name="person",
            name="wrong_password_at",
            field=models.DateTimeField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name="person",
            name="wrong_passwords",
            field=models.PositiveIntegerField(
                default=0,
                editable=False,
                help_text="In a row, on the person's own pages.",
            ),
        ),
    ]
