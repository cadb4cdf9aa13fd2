import json

from django.db import transaction
from django.utils import timezone

from workups.chemistry.fields import MAX_STEPS
from workups.documents.limits import MAX_BYTES
from workups.models import Person, PlanRevision, Work
from workups.selectors.plans import current_plan, find_plan, undo_of
from workups.services.assessments import settle
from workups.services.audit import record_audit
from workups.services.hand_ins import new_to_assess
from workups.services.holding import hold
from workups.services.plan_edits import NoSuchStep, PlanData, PlanEdit, is_complete, steps_of
from workups.services.refusals import Refused

EMPTY_PLAN: PlanData = {"steps": []}


class StalePlan(Refused):
    """The plan was changed elsewhere since this change was begun. Both states are kept."""

    def __init__(self, aside: PlanRevision, current: PlanRevision) -> None:
        super().__init__(f"version {aside.base_version} is older than {current.version}")
        self.aside = aside
        self.current = current


class PlanIsAtTheBench(Refused):
    """The plan is being worked down at the bench: it can no longer be changed."""


class PlanIsTooLarge(Refused):
    """More steps, or more text in them, than a plan may have; nothing was saved."""


class PlanIsIncomplete(Refused):
    """The plan has no steps, or steps that are not filled in."""


def save_plan(
    *,
    actor: Person,
    work: Work,
    data: PlanData,
    base_version: int,
    change: str,
    undone_to: int | None = None,
) -> PlanRevision:
    """Save a state of the plan that was made from `base_version` (0: from nothing).

    Raises StalePlan when there is a newer state; the one given is then kept aside.
    """

    def replace(_: PlanData) -> PlanData:
        return data

    return edit_plan(
        actor=actor,
        work=work,
        base_version=base_version,
        edit=PlanEdit(change, replace, undone_to=undone_to),
        merge=False,
    )


def edit_plan(
    *, actor: Person, work: Work, base_version: int, edit: PlanEdit, merge: bool = True
) -> PlanRevision:
    """Apply a change that was made looking at `base_version`.

    When the plan has moved on but the steps concerned have not, the change is applied to the
    newest state. Otherwise it is kept aside, on top of its own base, and StalePlan is raised
    after that is saved.
    """
    saved, current = _apply_edit(actor, work, base_version, edit, merge)
    if saved.aside:
        raise StalePlan(saved, current)
    return saved


@transaction.atomic
def _apply_edit(
    actor: Person, work: Work, base_version: int, edit: PlanEdit, merge: bool
) -> tuple[PlanRevision, PlanRevision]:
    hold(work)
    require_open_plan(work)
    current = current_plan(work)
    now = current.data if current else EMPTY_PLAN
    if current is not None and (
        _changes_nothing(edit, now) or _is_made(work, base_version, edit, current)
    ):
        return current, current
    if current is None or current.version == base_version or (
        merge and not _clashes(work, base_version, edit, now)
    ):
        saved = _append(
            actor, work, edit.apply(now), base_version, edit.words, undone_to=edit.undone_to
        )
        return saved, saved
    base = find_plan(work, base_version)
    data = edit.apply(base.data if base else EMPTY_PLAN)
    return _append(actor, work, data, base_version, edit.words, aside=True), current


def _is_made(work: Work, base_version: int, edit: PlanEdit, current: PlanRevision) -> bool:
    """Whether a double click made this change of `base_version` before."""
    if current.version == base_version:
        return False
    base = find_plan(work, base_version)
    return edit.is_made(base.data if base else EMPTY_PLAN, current.data)


def _changes_nothing(edit: PlanEdit, now: PlanData) -> bool:
    try:
        return edit.apply(now) == now
    except NoSuchStep:
        return False


def _clashes(work: Work, base_version: int, edit: PlanEdit, now: PlanData) -> bool:
    base = find_plan(work, base_version)
    if edit.clashes(base.data if base else EMPTY_PLAN, now):
        return True
    try:
        edit.apply(now)
    except NoSuchStep:
        return True
    return False


def _append(
    actor: Person,
    work: Work,
    data: PlanData,
    base_version: int,
    words: str,
    *,
    aside: bool = False,
    submitted: bool = False,
    undone_to: int | None = None,
) -> PlanRevision:
    newest = PlanRevision.objects.filter(work=work).order_by("-version").first()
    _require_room(data, newest)
    revision = PlanRevision(
        work=work,
        version=newest.version + 1 if newest else 1,
        base_version=base_version,
        data=data,
        change=words[:200],
        aside=aside,
        undone_to=undone_to,
        saved_by=actor,
        submitted_at=timezone.now() if submitted else None,
    )
    revision.full_clean()
    revision.save()
    return revision


def _require_room(data: PlanData, newest: PlanRevision | None) -> None:
    """A plan that is over a limit already may still be made smaller."""
    before: PlanData = newest.data if newest else EMPTY_PLAN
    steps, size = len(steps_of(data)), _size_of(data)
    if steps > MAX_STEPS and len(steps_of(before)) < steps:
        raise PlanIsTooLarge(f"A plan has at most {MAX_STEPS} steps.")
    if size > MAX_BYTES and _size_of(before) < size:
        raise PlanIsTooLarge("There is too much text in the plan. Shorten its notes.")


def _size_of(data: PlanData) -> int:
    """Bytes that a state of the plan takes."""
    return len(json.dumps(data).encode())


def restore_plan(*, actor: Person, work: Work, version: int, base_version: int) -> PlanRevision:
    """Go back to an earlier state, or take one that was kept aside; nothing is erased."""
    earlier = PlanRevision.objects.get(work=work, version=version)
    return save_plan(
        actor=actor,
        work=work,
        data=earlier.data,
        base_version=base_version,
        change=f"Went back to draft {version}",
    )


def undo_plan(*, actor: Person, work: Work, version: int, base_version: int) -> PlanRevision:
    """Take the last change back that is not undone yet: `version` is what that brings back. Where
    the plan moved on meanwhile it is an earlier state like any other."""
    current = current_plan(work)
    undo = undo_of(current) if current else None
    if undo is None or undo.to_version != version:
        return restore_plan(actor=actor, work=work, version=version, base_version=base_version)
    return save_plan(
        actor=actor,
        work=work,
        data=PlanRevision.objects.get(work=work, version=version).data,
        base_version=base_version,
        change=f"Undid: {undo.words}",
        undone_to=version,
    )


def require_open_plan(work: Work) -> None:
    if work.bench_record_id is not None:
        raise PlanIsAtTheBench


def submit_plan(*, actor: Person, work: Work, base_version: int) -> PlanRevision:
    """Hand in the plan as it is in `base_version`, which must be the newest, and assess it.

    A plan that turns out not to be workable is handed in all the same: the work's state says so.
    """
    submitted = _hand_in(actor, work, base_version)
    settle(actor=actor, work=work, reason="plan handed in")
    return submitted


@transaction.atomic
def _hand_in(actor: Person, work: Work, base_version: int) -> PlanRevision:
    hold(work)
    require_open_plan(work)
    current = current_plan(work)
    if current is not None and current.version != base_version:
        raise StalePlan(current, current)
    if current is None or not steps_of(current.data):
        raise PlanIsIncomplete("The plan has no steps yet.")
    if not all(is_complete(step) for step in steps_of(current.data)):
        raise PlanIsIncomplete("Some steps are not filled in yet.")
    submitted = _append(
        actor, work, current.data, base_version, "Submitted the plan", submitted=True
    )
    new_to_assess(work, first=True)
    record_audit(
        actor=actor,
        action="submit-plan",
        subject=work,
        course=work.revision.course,
        details={"version": submitted.version},
    )
    return submitted
