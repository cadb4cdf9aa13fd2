import django.db.models.deletion
import django.utils.timezone
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0002_exercises_plans_bench_and_review'),
    ]

    operations = [
        migrations.CreateModel(
            name='ModelRun',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('engine', models.CharField(max_length=40)),
                ('assessment', models.JSONField()),
                ('made_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
            ],
        ),
        migrations.CreateModel(
            name='ExerciseDraft',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('title', models.CharField(max_length=200)),
                ('document', models.TextField(help_text='The exercise file as it stands.')),
                ('version', models.PositiveIntegerField(default=1)),
                ('made_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('changed_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('base', models.ForeignKey(blank=True, help_text='The revision that this began as.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='drafts', to='workups.exerciserevision')),
                ('changed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='changed_drafts', to=settings.AUTH_USER_MODEL)),
                ('course', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='drafts', to='workups.course')),
                ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='drafts', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('-changed_at',),
            },
        ),
        migrations.CreateModel(
            name='Remark',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('public_id', models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ('text', models.TextField(max_length=4000)),
                ('kept_at', models.DateTimeField(default=django.utils.timezone.now, editable=False)),
                ('dropped_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('course', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='remarks', to='workups.course')),
                ('kept_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='remarks_kept', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ('text',),
            },
        ),
        migrations.CreateModel(
            name='TryOut',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('course', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='try_outs', to='workups.course')),
                ('own_course', models.OneToOneField(editable=False, on_delete=django.db.models.deletion.PROTECT, related_name='try_out_of', to='workups.course')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='try_outs', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('course', 'person'), name='one_try_out_per_person_and_course')],
            },
        ),
    ]
