from dataclasses import dataclass

from workups.exercise.exercise import FeedbackPolicy
from workups.models import SelfCheck, Work
from workups.selectors.plans import submitted_plan


@dataclass(frozen=True)
class SelfCheckPolicy:
    """What self-check says for this student; `attempts_left` None means as many as wanted."""

    detail: str
    attempts_left: int | None

    @property
    def is_on(self) -> bool:
        return self.detail != "nothing"

    @property
    def shows_shares(self) -> bool:
        return FeedbackPolicy(detail=self.detail).shows_shares


def policy_of(work: Work) -> SelfCheckPolicy:
    policy = work.assignment.feedback_policy(work.to_core())
    if not policy.attempts:
        return SelfCheckPolicy(policy.detail, None)
    used = SelfCheck.objects.filter(work=work).count() + work.checks_cut_short
    return SelfCheckPolicy(policy.detail, max(0, policy.attempts - used))


def draws_scheme(work: Work) -> bool:
    """Whether the exercise lets the student see the scheme of the own plan by now."""
    handed_in = submitted_plan(work) is not None
    return work.to_core().policy.draws_scheme(handed_in=handed_in)


def draws_shakes(work: Work) -> bool:
    """Whether the student may look into the funnel of any step of the own plan, as often as wanted:
    where self-checks are counted, looking is no way around the count."""
    policy = work.assignment.feedback_policy(work.to_core())
    return policy.shows_shares and not policy.attempts and draws_scheme(work)


def asks_first(work: Work) -> bool:
    """Whether the exercise has its students say what a shake will do before it is drawn."""
    return work.to_core().policy.asks_first


def last_self_check(work: Work) -> SelfCheck | None:
    return SelfCheck.objects.filter(work=work).select_related("plan_revision").first()


def find_self_check(work: Work, attempt: int) -> SelfCheck | None:
    return (
        SelfCheck.objects.filter(work=work, attempt=attempt)
        .select_related("plan_revision")
        .first()
    )
