from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from workups.exercise.exercise import FeedbackPolicy
from workups.grading.assessment import Assessment, Strength
from workups.grading.finding_titles import finding_title
from workups.grading.points.charges import follows_from_a_cause
from workups.grading.visibility import Moment
from workups.models import SelfCheck, Work
from workups.selectors.plans import submitted_plan
from workups.selectors.student_findings import (
    ProductPlaces,
    StudentCheck,
    StudentFinding,
    student_checks,
)
from workups.words.numbers import joined


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


# What a self-check comes to: a verdict in a sentence, what weighs most first, what has changed.


_ORDER = list(Strength)
# A product of which less than this share is weighed does not arrive.
ARRIVES = 0.1
# Checks that look at what is done, whether a product arrives or not.
_WITHOUT_PRODUCT = ("layers_safety", "reagent_table")


@dataclass(frozen=True)
class Verdict:
    """What the check says in a sentence, how much of each product arrives, and the class of its
    note (``hold``, ``loss``, ``advice``, ``good``)."""

    words: str
    arrives: str
    note_class: str


@dataclass(frozen=True)
class Remark:
    """A finding with the titles of the checks that it takes points from."""

    found: StudentFinding
    checks: tuple[str, ...]


@dataclass(frozen=True)
class Changes:
    """Titles of what was found at the check before and is no more, is new, and is still there."""

    before: int
    mended: tuple[str, ...]
    new: tuple[str, ...]
    still: tuple[str, ...]


def checks_of(check: SelfCheck, said: Assessment | None) -> list[StudentCheck]:
    """The checks as the policy of that self-check lets them be told; none where nothing can be
    said of it any more."""
    if said is None:
        return []
    policy, plan = FeedbackPolicy(detail=check.detail), check.plan_revision.to_core()
    return student_checks(said, policy, plan, Moment.PLANNING)


def verdict_of(checks: Sequence[StudentCheck], places: Sequence[ProductPlaces]) -> Verdict:
    """The check in one sentence: a hold before all else, then what costs points."""
    findings = [found.finding for check in checks for found in check.findings]
    holds = sum(f.strength is Strength.SAFETY_HOLD for f in findings)
    unmet = [check.title.lower() for check in checks if check.is_met is False]
    if holds:
        how_many = "a safety hold" if holds == 1 else f"{holds} safety holds"
        words = (f"Not to the bench like this: {how_many}. You can hand the plan in, but your TA "
                 "has to say a word before you begin.")
        return Verdict(words, _arriving(places), "hold")
    if unmet:
        losses = any(f.charged and f.strength is Strength.PRODUCT_LOSS for f in findings)
        return Verdict(
            f"Not yet: {joined(unmet)}.", _arriving(places), "loss" if losses else "advice")
    if any(check.is_met is None for check in checks):
        return Verdict("No safety hold. This exercise says no more of it.", "", "advice")
    kept = "Every check is met: the plan does what it is to do."
    return Verdict(kept, _arriving(places), "good")


def met_words(check: StudentCheck, places: Sequence[ProductPlaces]) -> str:
    """What stands beside a check that is met: where several products are asked for and one does
    not arrive, what comes after its loss was never put to the test for it."""
    missing = [p for p in places if not any(
        line.is_weighed and line.share >= ARRIVES for line in p.lines)]
    if not check.is_met or not missing or check.name in _WITHOUT_PRODUCT:
        return "met"
    there = [p.name for p in places if p not in missing]
    return f"met for {joined(there)}" if there else "not put to the test"


def _arriving(places: Sequence[ProductPlaces]) -> str:
    """How much of each product is in what is weighed as that product."""
    told = [
        f"{line.words} of {'the product' if len(places) == 1 else product.name}"
        for product in places for line in product.lines if line.is_weighed]
    return f"On the balance: {joined(told)}." if told else ""


def remarks_of(checks: Iterable[StudentCheck]) -> list[Remark]:
    """All findings, the heaviest first. What only says that a check lost its points to a cause
    told elsewhere is told with that cause."""
    found = [(check, f) for check in checks for f in check.findings]
    told = [(c, f) for c, f in found if not follows_from_a_cause(f.finding)]
    follow = [c for c, f in found if follows_from_a_cause(f.finding)]
    if not told:
        told, follow = found, []
    told.sort(key=lambda pair: (_ORDER.index(pair[1].finding.strength), -_cost(*pair),
                                pair[1].step_number or 0))
    first = next((i for i, (_, f) in enumerate(told) if f.finding.charged), 0)
    return [
        Remark(f, (check.title, *(c.title for c in follow if i == first)))
        for i, (check, f) in enumerate(told)]


def _cost(check: StudentCheck, found: StudentFinding) -> float:
    return found.finding.score_loss * check.out_of if found.finding.charged else 0.0


def changes_since(
    before: int, then: Iterable[StudentCheck], now: Iterable[StudentCheck]
) -> Changes:
    """What was found at a check before, beside what is found now, by kind."""
    old, new = _kinds(then), _kinds(now)
    return Changes(
        before,
        tuple(finding_title(code) for code in old if code not in new),
        tuple(finding_title(code) for code in new if code not in old),
        tuple(finding_title(code) for code in new if code in old))


def _kinds(checks: Iterable[StudentCheck]) -> list[str]:
    codes = (
        found.finding.code for check in checks for found in check.findings
        if found.finding.charged or found.finding.strength is Strength.SAFETY_HOLD)
    return list(dict.fromkeys(codes))
