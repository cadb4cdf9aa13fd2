import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0005_pins_for_the_shared_station'),
    ]

    operations = [
        migrations.CreateModel(
            name='SheetTyping',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('client_token', models.UUIDField(unique=True)),
                ('turn', models.PositiveSmallIntegerField()),
                ('data', models.JSONField(help_text='What stood in each field, as typed.')),
                ('stored', models.BooleanField(default=False)),
                ('at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sheet_typings', to=settings.AUTH_USER_MODEL)),
                ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='typings', to='workups.benchrecord')),
            ],
            options={
                'ordering': ('pk',),
            },
        ),
    ]
