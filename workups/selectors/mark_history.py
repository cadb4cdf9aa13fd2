"""Everything that ever touched a mark, in one list: who, what, when and why."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import Q

from workups.exercise.exercise import CHECK_TITLES
from workups.grading.finding_titles import finding_title
from workups.models import AssessmentSnapshot, AuditEntry, MarkQuery, Review, ReviewComment, Work
from workups.selectors.anonymity import hides_names, name_for_marking, people_to_hide
from workups.selectors.verdicts import verdicts
from workups.words.numbers import fixed

WORDS = {
    "submit-plan": "handed in the plan",
    "clear-hold": "cleared a safety hold",
    "admit": "admitted the student",
    "take-back-admission": "took the admission back",
    "submit-report": "handed in the report",
    "adjust-points": "changed points",
    "overrule-finding": "overruled a finding",
    "take-back-adjustment": "took a change of points back",
    "accept-report": "accepted the report",
    "reopen-review": "handed in more, so that the report waits for review again",
    "return-report": "returned the report for correction",
    "release-report": "released the result",
    "answer-query": "answered a question",
    "open-results": "let the section's results out",
    "keep-results-out": "opened readings again; results that were out stay visible",
}


@dataclass(frozen=True)
class MarkEvent:
    """One line of the history. `who` is the name of then, `person` the key of whose it is."""

    at: datetime
    who: str
    what: str
    details: str = ""
    person: int | None = None


def mark_history(work: Work) -> list[MarkEvent]:
    """Oldest first; students by the code of the report where names are hidden."""
    events = [*_audited(work), *_assessed(work), *_commented(work), *_asked(work)]
    review = Review.objects.filter(work=work).first()
    if hides_names(work, review):
        hidden, code = people_to_hide(work), name_for_marking(work, review)
        events = [replace(e, who=code) if e.person in hidden else e for e in events]
    return sorted(events, key=lambda event: event.at)


def _audited(work: Work) -> Iterator[MarkEvent]:
    own = Q(object_type="work", object_id=str(work.public_id))
    of_section = Q(
        object_type="assignment",
        object_id=str(work.assignment.public_id),
        action__in=("open-results", "keep-results-out"),
    )
    for entry in AuditEntry.objects.filter(own | of_section):
        yield MarkEvent(
            entry.at,
            entry.actor_name,
            WORDS.get(entry.action, entry.action.replace("-", " ")),
            _details(entry.action, entry.details),
            entry.actor_id,
        )


def _details(action: str, details: dict[str, Any]) -> str:
    parts = []
    if "before" in details and "after" in details:
        title, before, after = check_title(details), details["before"], details["after"]
        parts.append(f"{title}: {float(before):g} to {float(after):g} points")
    if details.get("finding"):
        parts.append(f"finding “{finding_title(details['finding'])}”")
    if action == "take-back-adjustment":
        parts.append(f"{check_title(details)}: {float(details['taken_back']):+g} points taken back")
    if action == "accept-report":
        parts.append(f"{details['points']} points")
    if action == "submit-plan":
        parts.append(f"draft {details['version']}")
    parts += [str(details[key]) for key in ("reason", "answer") if details.get(key)]
    if details.get("answer_before"):
        parts.append(f"before: {details['answer_before']}")
    return "; ".join(parts)


def check_title(details: dict[str, Any]) -> str:
    """What a check is called on the page; its key where it has no title any more."""
    return CHECK_TITLES.get(details["check"], details["check"])


def _assessed(work: Work) -> Iterator[MarkEvent]:
    snapshots = AssessmentSnapshot.objects.filter(work=work)
    computed = verdicts(snapshots)
    for snapshot in snapshots.select_related("made_by").defer("assessment"):
        points = computed[snapshot.pk].points
        yield MarkEvent(
            snapshot.made_at,
            str(snapshot.made_by or "Labcourse"),
            "had it assessed",
            f"{snapshot.reason}; {fixed(points, 1)} points computed, engine {snapshot.engine}, "
            f"seed {snapshot.seed}",
            snapshot.made_by_id,
        )


def _commented(work: Work) -> Iterator[MarkEvent]:
    for comment in ReviewComment.objects.filter(review__work=work).select_related("by"):
        what = "noted for staff" if comment.for_staff else "commented"
        yield MarkEvent(comment.at, str(comment.by), what, comment.text, comment.by_id)


def _asked(work: Work) -> Iterator[MarkEvent]:
    for query in MarkQuery.objects.filter(review__work=work).select_related("asked_by"):
        yield MarkEvent(
            query.asked_at,
            str(query.asked_by),
            "asked about the mark",
            query.text,
            query.asked_by_id,
        )
