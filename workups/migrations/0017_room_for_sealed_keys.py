from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0016_rows_that_the_database_keeps'),
    ]

    operations = [
        migrations.RenameField(
            model_name='secondstep',
            old_name='key',
            new_name='sealed_key',
        ),
        migrations.AlterField(
            model_name='secondstep',
            name='sealed_key',
            field=models.TextField(help_text='The key in base 32, sealed (services/sealing.py).'),
        ),
        migrations.AddField(
            model_name='secondstep',
            name='recovery_salt',
            field=models.CharField(blank=True, default='', max_length=64),
        ),
    ]
