import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0004_entries_say_when_and_how_they_came_in'),
    ]

    operations = [
        migrations.CreateModel(
            name='StationFailure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=8)),
                ('address', models.GenericIPAddressField(null=True)),
                ('at', models.DateTimeField(db_index=True, default=django.utils.timezone.now)),
            ],
            options={
                'ordering': ('-at',),
            },
        ),
        migrations.AddField(
            model_name='work',
            name='station_pin',
            field=models.CharField(blank=True, editable=False, help_text='Hashed, for the shared station.', max_length=128),
        ),
    ]
