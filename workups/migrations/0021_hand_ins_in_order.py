from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workups', '0020_find_where_hand_ins_stand'),
    ]

    operations = [
        migrations.AddConstraint(
            model_name='review',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state__in', ('reviewed', 'released')), _negated=True), ('snapshot__isnull', False), _connector='OR'), name='a_mark_rests_on_an_assessment'),
        ),
        migrations.AddConstraint(
            model_name='work',
            constraint=models.CheckConstraint(condition=models.Q(('hand_in__in', ['nothing', 'saved', 'assessing', 'assessed', 'cannot be carried out'])), name='hand_in_in_a_known_state'),
        ),
        migrations.AddConstraint(
            model_name='work',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('hand_in', 'nothing'), ('hand_in_count', 0)), models.Q(models.Q(('hand_in', 'nothing'), _negated=True), ('hand_in_count__gt', 0)), _connector='OR'), name='nothing_is_handed_in_until_it_is'),
        ),
        migrations.AddConstraint(
            model_name='work',
            constraint=models.CheckConstraint(condition=models.Q(('hand_in', 'cannot be carried out'), ('hand_in_problem', ''), _connector='XOR'), name='hand_in_problem_with_its_state'),
        ),
    ]
