"""States of what was handed in before states were kept, and marks that rest on nothing.

A work whose newest assessment is older than what came in, or of another plan, exercise or record,
waits to be assessed: `lock_overdue` finds it.
"""

from django.db import migrations
from django.utils import timezone


def find_states(apps, schema_editor):
    Work = apps.get_model("workups", "Work")
    for work in Work.objects.select_related("bench_record").iterator():
        plan = (
            work.plan_revisions.filter(submitted_at__isnull=False).order_by("-version").first()
        )
        if plan is None:
            continue
        record = work.bench_record
        came = max(
            at
            for at in (
                plan.submitted_at,
                record.locked_at if record else None,
                work.report_submitted_at,
            )
            if at is not None
        )
        snapshot = work.snapshots.order_by("-made_at", "-pk").first()
        rests = (
            snapshot is not None
            and snapshot.made_at >= came
            and snapshot.plan_revision_id == plan.pk
            and snapshot.revision_id == work.revision_id
            and snapshot.own_exercise_id == work.own_exercise_id
        )
        Work.objects.filter(pk=work.pk).update(
            hand_in="assessed" if rests else "saved",
            hand_in_at=snapshot.made_at if rests else came,
            hand_in_count=1,
        )


def rest_marks(apps, schema_editor):
    """A mark rests on the newest assessment where none was kept; without any it waits again."""
    Review = apps.get_model("workups", "Review")
    bare = Review.objects.filter(state__in=("reviewed", "released"), snapshot__isnull=True)
    for review in bare.iterator():
        newest = review.work.snapshots.order_by("-made_at", "-pk").first()
        if newest is None:
            review.state, review.waiting_since = "waiting", timezone.now()
        review.snapshot = newest
        review.save(update_fields=["state", "waiting_since", "snapshot"])


def nothing(apps, schema_editor):
    """Going back takes the columns themselves away."""


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0019_where_a_hand_in_stands'),
    ]

    operations = [
        migrations.RunPython(find_states, nothing),
        migrations.RunPython(rest_marks, nothing),
    ]
