"""What a student handed in and its assessment, as one state machine (`Work.hand_in`).

States
    nothing           no plan is handed in
    saved             something was handed in, or the exercise under it changed, and is not
                      assessed yet
    assessing         somebody is computing it; a program that stops there leaves it here
    assessed          the newest assessment rests on all that was handed in
    cannot be carried out
                      the computation gave up; `hand_in_problem` says why, for its reader

Events, and who brings them about
    new_to_assess     any state but nothing -> saved. A plan handed in (student; from nothing too),
                      readings locked (student, TA, the date), a report handed in (student), another
                      form or revision of the exercise (instructor)
    begin_assessing   saved, assessing, assessed, cannot be carried out -> assessing. Whoever
                      brought the event before about, a TA at the door, the timer for what was cut
                      short
    assessed          assessing -> assessed, with the snapshot in the same transaction. Only if
                      nothing new has come since the computation began: else it is thrown away, and
                      made anew
    gave_up           assessing -> cannot be carried out, under the same condition

What each state allows
    begun at the bench, admitted   assessed without open holds; cannot be carried out, if a TA has
                                   read the plan and cleared it (`selectors/holds.py`)
    adjusted, accepted, released   assessed
    all other states refuse with NotAssessedYet or CouldNotBeAssessed

`hand_in_count` counts what was new, so that a computation knows whether it is still about all
there is. Every event holds the work's row. The database refuses states that are not listed, a
problem without its state, and an accepted or released review without an assessment.
"""

from collections.abc import Collection
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from workups.models import HandIn, Work
from workups.services.computing import CannotBeCarriedOut
from workups.services.holding import hold
from workups.services.refusals import Refused

_FIELDS = ("hand_in", "hand_in_at", "hand_in_count", "hand_in_problem")


class NothingToAssess(Refused):
    """The student has handed in no plan."""


class NotAssessedYet(Refused):
    """Something new came in just now and is being assessed."""


class CouldNotBeAssessed(Refused):
    """The computation gave up on what was handed in; the work's `hand_in_problem` says why."""


@dataclass(frozen=True)
class Turn:
    """One computation under way, and how much was handed in when it began."""

    work: Work
    count: int


@transaction.atomic
def new_to_assess(work: Work, *, first: bool = False) -> None:
    """Something new is stored; `first` for a plan handed in, without which nothing is assessed."""
    hold(work)
    if work.hand_in == HandIn.NOTHING and not first:
        return
    _go_to(work, HandIn.SAVED, count=work.hand_in_count + 1)


@transaction.atomic
def begin_assessing(work: Work) -> Turn:
    """From any state but nothing: an assessment may be made anew at any time."""
    hold(work)
    if work.hand_in == HandIn.NOTHING:
        raise NothingToAssess
    _go_to(work, HandIn.ASSESSING, count=work.hand_in_count)
    return Turn(work, work.hand_in_count)


@transaction.atomic
def assessed(turn: Turn) -> bool:
    """The computation's snapshot is stored in the same transaction; False if more came since."""
    return _end(turn, HandIn.ASSESSED)


@transaction.atomic
def gave_up(turn: Turn, problem: CannotBeCarriedOut) -> bool:
    """The computation ended without an assessment; False if more came since."""
    return _end(turn, HandIn.FAILED, str(problem))


def _end(turn: Turn, state: HandIn, problem: str = "") -> bool:
    work = turn.work
    hold(work)
    if work.hand_in_count != turn.count:
        return False
    _go_to(work, state, count=work.hand_in_count, problem=problem)
    return True


def require_assessed(work: Work, *, allowed: Collection[str] = (HandIn.ASSESSED,)) -> None:
    """Refuse a work in another state, and keep it in this one until the transaction ends.

    Raises NothingToAssess, NotAssessedYet or CouldNotBeAssessed.
    """
    hold(work)
    if work.hand_in in allowed:
        return
    if work.hand_in == HandIn.NOTHING:
        raise NothingToAssess
    if work.hand_in == HandIn.FAILED:
        raise CouldNotBeAssessed(work.hand_in_problem)
    raise NotAssessedYet


def _go_to(work: Work, state: HandIn, *, count: int, problem: str = "") -> None:
    work.hand_in, work.hand_in_at = state, timezone.now()
    work.hand_in_count, work.hand_in_problem = count, problem[:300]
    work.save(update_fields=_FIELDS)
