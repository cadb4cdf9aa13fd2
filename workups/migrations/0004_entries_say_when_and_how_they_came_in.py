from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0003_drafts_try_outs_and_remarks'),
    ]

    operations = [
        migrations.AddField(
            model_name='benchstep',
            name='device_offset_s',
            field=models.IntegerField(blank=True, help_text='What the device adds to its clock to get ours, in s.', null=True),
        ),
        migrations.AddField(
            model_name='benchstep',
            name='source',
            field=models.CharField(choices=[('bench', 'At the bench'), ('station', 'At the shared station'), ('sheet', 'Late entry from the printed sheet'), ('supplied', 'Supplied by the instructor')], default='bench', help_text='How it came in.', max_length=10),
        ),
        migrations.AddField(
            model_name='reading',
            name='device_offset_s',
            field=models.IntegerField(blank=True, help_text='What the device adds to its clock to get ours, in s.', null=True),
        ),
        migrations.AddField(
            model_name='reading',
            name='source',
            field=models.CharField(choices=[('bench', 'At the bench'), ('station', 'At the shared station'), ('sheet', 'Late entry from the printed sheet'), ('supplied', 'Supplied by the instructor')], default='bench', help_text='How it came in.', max_length=10),
        ),
    ]
