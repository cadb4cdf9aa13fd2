from dataclasses import dataclass

from workups.models import SelfCheck, Work


@dataclass(frozen=True)
class SelfCheckPolicy:
    """What self-check says for this student; `attempts_left` None means as many as wanted."""

    detail: str
    attempts_left: int | None

    @property
    def is_on(self) -> bool:
        return self.detail != "nothing"


def policy_of(work: Work) -> SelfCheckPolicy:
    policy = work.assignment.feedback_policy(work.to_core())
    if not policy.attempts:
        return SelfCheckPolicy(policy.detail, None)
    used = SelfCheck.objects.filter(work=work).count() + work.checks_cut_short
    return SelfCheckPolicy(policy.detail, max(0, policy.attempts - used))


def last_self_check(work: Work) -> SelfCheck | None:
    return SelfCheck.objects.filter(work=work).select_related("plan_revision").first()


def find_self_check(work: Work, attempt: int) -> SelfCheck | None:
    return (
        SelfCheck.objects.filter(work=work, attempt=attempt)
        .select_related("plan_revision")
        .first()
    )
