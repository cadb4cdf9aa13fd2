from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from workups.grading.reagent_table import Judgement, LineAnswers, judge_answers
from workups.models import ReagentTableEntry, Work
from workups.selectors.plans import submitted_plan
from workups.selectors.reagents import lines_of
from workups.selectors.works import dates_of
from workups.services.holding import hold
from workups.services.refusals import Refused


class ReagentTableIsClosed(Refused):
    """The time for the pre-lab work is over and the plan is handed in."""


def require_open_table(work: Work) -> None:
    past_due = timezone.now() > dates_of(work).plan_due
    if work.bench_record_id is not None or (past_due and submitted_plan(work) is not None):
        raise ReagentTableIsClosed


@transaction.atomic
def save_reagent_table(*, work: Work, answers: Mapping[str, LineAnswers]) -> Judgement:
    """Store the answers as typed, with the verdict on each line."""
    hold(work)
    require_open_table(work)
    lines = lines_of(work)
    judgement = judge_answers(lines, answers)
    for line in lines:
        if line.asks or line.coefficient > 0:
            _save_line(work, line.key, answers.get(line.key, LineAnswers()), judgement)
    return judgement


def _save_line(work: Work, key: str, answers: LineAnswers, judgement: Judgement) -> None:
    entry = ReagentTableEntry.objects.filter(work=work, substance=key).first()
    entry = entry or ReagentTableEntry(work=work, substance=key)
    before = (entry.molar_mass, entry.amount_mmol, entry.theoretical_g, entry.limiting)
    if before == tuple(vars(answers).values()) and entry.pk is not None:
        return
    for name, value in vars(answers).items():
        setattr(entry, name, value)
    verdicts = [v.right for (line, _), v in judgement.verdicts.items() if line == key]
    entry.correct = None if None in verdicts else all(verdicts)
    entry.attempts += 1
    entry.checked_at = timezone.now()
    entry.full_clean()
    entry.save()
