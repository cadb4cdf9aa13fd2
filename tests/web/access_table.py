"""What every address answers to every role: the table that `test_access_table.py` walks.

A new page gets a line here, or the test fails. A line says what a GET and what an empty POST
answer, each by a function of who may: a number is the status, SIGN_IN is a redirect to sign-in,
NO_METHOD is 405 (a visitor who is not signed in is asked to sign in first). PUT, PATCH, DELETE and
OPTIONS are refused everywhere and need no line.
"""

from collections.abc import Mapping
from typing import NamedTuple

SIGN_IN = "sign-in"
STRANGERS = ("outsider", "elsewhere")  # instructor and student of another course
STUDENTS = ("peer", "partner", "student")  # same section; shares the bench record; the owner
TAS = ("other_ta", "ta")  # of another section; of the student's
ROLES = ("anonymous", *STRANGERS, *STUDENTS, *TAS, "instructor", "stockroom")

Outcome = int | str
Outcomes = Mapping[str, Outcome]


def course(outcome: Outcome, *roles: str) -> Outcomes:
    """For these roles of the course; 403 for its others, and not there for strangers."""
    return {
        "anonymous": SIGN_IN,
        **dict.fromkeys(STRANGERS, 404),
        **dict.fromkeys(ROLES[3:], 403),
        **dict.fromkeys(roles, outcome),
    }


def own(outcome: Outcome) -> Outcomes:
    """A student's own work: not there for any other student, the partner included."""
    return {**course(outcome, "student"), "peer": 404, "partner": 404}


def teachers(outcome: Outcome) -> Outcomes:
    """The section's own TA and the instructor."""
    return course(outcome, "ta", "instructor")


def all_teachers(outcome: Outcome) -> Outcomes:
    return course(outcome, *TAS, "instructor")


def instructor(outcome: Outcome) -> Outcomes:
    return course(outcome, "instructor")


def members(outcome: Outcome) -> Outcomes:
    return course(outcome, *ROLES[3:])


def signed_in(outcome: Outcome) -> Outcomes:
    return {**dict.fromkeys(ROLES, outcome), "anonymous": SIGN_IN}


def any_staff(outcome: Outcome) -> Outcomes:
    """Staff of whatever course."""
    return {**signed_in(outcome), **dict.fromkeys(("elsewhere", *STUDENTS), 403)}


def everybody(outcome: Outcome) -> Outcomes:
    return dict.fromkeys(ROLES, outcome)


NO_METHOD = signed_in(405)
NO_METHOD_OPEN = everybody(405)


class Line(NamedTuple):
    """What a GET and an empty POST answer, by role."""

    get: Outcomes
    post: Outcomes = NO_METHOD


# Fresh objects of the world: a plan handed in and self-checked, a bench record with one reading.
TABLE: Mapping[str, Line] = {
    # accounts: open to all, since whoever cannot sign in needs them
    "sign-in": Line(
        {**everybody(302), "anonymous": 200}, {**everybody(302), "anonymous": 200}
    ),
    # nobody of the world has given a password in this session
    "confirm-sign-in": Line(everybody(SIGN_IN), everybody(SIGN_IN)),
    "sign-out": Line(NO_METHOD_OPEN, everybody(SIGN_IN)),
    "forgot-password": Line(everybody(200), everybody(200)),
    "set-password": Line(everybody(200), everybody(200)),
    "set-colour-scheme": Line(NO_METHOD_OPEN, everybody(400)),
    "service-worker": Line(everybody(200), NO_METHOD_OPEN),
    "change-password": Line(signed_in(200), signed_in(200)),
    "show-profile": Line(signed_in(200), signed_in(200)),
    "sign-out-devices": Line(NO_METHOD, signed_in(200)),
    "set-up-second-step": Line(any_staff(200), any_staff(200)),
    "drop-second-step": Line(NO_METHOD, any_staff(200)),
    # courses and people
    "list-courses": Line(signed_in(200)),
    "show-first-page": Line(signed_in(302)),
    "open-course": Line(signed_in(403), signed_in(403)),
    "show-course": Line(members(200)),
    "edit-course": Line(instructor(200), instructor(200)),
    # a copy is a new course: it takes the right to open courses, which nobody here has
    "copy-course": Line(course(403), course(403)),
    "archive-course": Line(NO_METHOD, instructor(302)),
    "reopen-course": Line(NO_METHOD, instructor(302)),
    "add-section": Line(instructor(200), instructor(200)),
    "edit-section": Line(instructor(200), instructor(200)),
    "show-roster": Line(instructor(200)),
    "upload-roster": Line(instructor(200), instructor(200)),
    "invite-people": Line(NO_METHOD, instructor(302)),
    "show-enrolment": Line(instructor(200)),
    "make-password-link": Line(NO_METHOD, instructor(403)),  # the student has a password
    "sign-out-everywhere": Line(NO_METHOD, instructor(302)),
    "lift-sign-in-stop": Line(NO_METHOD, instructor(302)),
    "remove-person": Line(NO_METHOD, instructor(302)),
    # planning
    "list-work": Line(course(200, *STUDENTS)),
    "show-work": Line(own(200)),
    "fill-reagents": Line(own(200), own(302)),  # closed: its record is begun
    "build-plan": Line(own(200), own(302)),
    "restore-plan": Line(NO_METHOD, own(302)),
    "copy-plan": Line(NO_METHOD, own(302)),
    "show-plan-history": Line(own(200)),
    "show-plan-version": Line(own(200)),
    "choose-draft": Line(own(302)),
    "print-plan": Line(own(200)),
    "submit-plan": Line(own(200), own(302)),
    # the world's step is one that shakes nothing
    "try-step": Line(own(200)),
    "show-shake": Line(own(404)),
    "self-check": Line(NO_METHOD, own(302)),
    "show-self-check": Line(own(200)),
    # bench
    "show-bench": Line(own(200)),
    "start-bench": Line(NO_METHOD, own(302)),
    "join-bench": Line(NO_METHOD, own(200)),
    "answer-share": Line(NO_METHOD, own(302)),
    "leave-bench": Line(own(200), own(200)),
    "part-partner": Line(teachers(200), teachers(200)),
    "lock-readings": Line(own(200), own(302)),
    "show-offline-bench": Line(own(200)),
    "check-connection": Line(own(200)),
    "replay-entry": Line(NO_METHOD, own(200)),
    "type-sheet": Line(own(200), own(200)),
    "supply-readings": Line(teachers(200), teachers(200)),
    # the shared station: open to all, since a bench code and PIN open it; nobody sits there
    "set-station-pin": Line(own(200), own(200)),
    "enter-station": Line(everybody(200), everybody(200)),
    "record-at-station": Line(everybody(302), everybody(302)),
    "stay-at-station": Line(NO_METHOD_OPEN, everybody(302)),
    "leave-station": Line(NO_METHOD_OPEN, everybody(302)),
    "add-bench-step": Line(own(200)),
    "record-entry": Line(own(200), own(200)),
    # reports and sheets
    "compare-plans": Line(own(302)),
    "show-report": Line(own(200)),
    "submit-report": Line(NO_METHOD, own(200)),
    "query-mark": Line(NO_METHOD, own(200)),
    "print-bench-sheet": Line(own(200)),
    "print-flask-labels": Line(own(200)),
    "print-yield-report": Line(own(302)),
    # exercises
    "list-exercises": Line(instructor(200)),
    "add-exercise": Line(instructor(200), instructor(200)),
    "preview-draft": Line(instructor(200)),
    "edit-draft": Line(instructor(200), instructor(200)),
    "download-draft": Line(instructor(200)),
    "author-draft": Line(instructor(302)),
    "check-draft": Line(instructor(200)),
    "edit-part": Line(instructor(200), instructor(302)),
    "show-draft-history": Line(instructor(200)),
    "return-to-state": Line(NO_METHOD, instructor(302)),
    "show-draft-method": Line(instructor(200)),
    "show-exercise-method": Line(all_teachers(200)),
    "edit-route": Line(instructor(200), instructor(302)),
    "discard-draft": Line(NO_METHOD, instructor(302)),
    "try-draft": Line(NO_METHOD, instructor(302)),
    "publish-exercise": Line(instructor(200), instructor(200)),
    "show-exercise": Line(instructor(200)),
    "download-exercise": Line(instructor(200)),
    "revise-exercise": Line(NO_METHOD, instructor(302)),
    "try-exercise": Line(NO_METHOD, instructor(302)),
    "assign-exercise": Line(instructor(200), instructor(200)),
    "compare-revisions": Line(instructor(200)),
    "compare-draft": Line(instructor(200)),
    "duplicate-exercise": Line(NO_METHOD, instructor(302)),
    "archive-exercise": Line(NO_METHOD, instructor(302)),
    "reopen-exercise": Line(NO_METHOD, instructor(302)),
    "move-students": Line(instructor(200), instructor(200)),
    "take-back-move": Line(NO_METHOD, instructor(302)),
    "add-variant": Line(instructor(200), instructor(200)),
    "show-variant": Line(instructor(200)),
    "download-variant": Line(instructor(200)),
    "try-variant": Line(NO_METHOD, instructor(302)),
    "drop-variant": Line(NO_METHOD, instructor(302)),
    "give-variant": Line(instructor(200), instructor(200)),
    "edit-assignment": Line(instructor(200), instructor(200)),
    "give-extension": Line(instructor(200), instructor(200)),
    "list-prep-sheets": Line(course(200, *TAS, "instructor", "stockroom")),
    "show-prep-sheet": Line(course(200, "ta", "instructor", "stockroom")),
    "print-prep-sheet": Line(course(200, "ta", "instructor", "stockroom")),
    "print-section": Line(course(200, "ta", "instructor", "stockroom")),
    "print-ta-sheet": Line(teachers(200)),
    # the other TA has no section in that week
    "print-week": Line({**course(200, "ta", "instructor", "stockroom"), "other_ta": 302}),
    "list-rules": Line(signed_in(200)),
    "show-rule": Line(signed_in(200)),
    "show-method": Line(signed_in(200)),
    "show-limits": Line(signed_in(200)),
    # review: queue, remarks and class picture show a TA the assigned sections only
    "show-door": Line(teachers(200)),
    "show-lab": Line(teachers(200)),
    "read-plan": Line(teachers(200)),
    "admit-work": Line(NO_METHOD, teachers(302)),
    "clear-hold": Line(NO_METHOD, teachers(200)),
    "tick-bench": Line(NO_METHOD, teachers(302)),
    "review-queue": Line(all_teachers(200)),
    "list-remarks": Line(all_teachers(200)),
    "drop-remark": Line(NO_METHOD, all_teachers(302)),
    "lock-overdue": Line(NO_METHOD, all_teachers(302)),
    "review-report": Line(teachers(200)),
    "accept-report": Line(NO_METHOD, teachers(302)),
    "adjust-points": Line(NO_METHOD, teachers(200)),
    "assess-work": Line(NO_METHOD, teachers(302)),
    "take-back-adjustment": Line(NO_METHOD, teachers(302)),
    "comment-report": Line(NO_METHOD, teachers(200)),
    "return-report": Line(NO_METHOD, teachers(200)),
    "show-mark-history": Line(teachers(200)),
    "answer-query": Line(NO_METHOD, teachers(200)),
    "release-section": Line(NO_METHOD, teachers(302)),
    "open-results": Line(instructor(200), instructor(200)),
    "show-standards": Line(instructor(200)),
    "draw-second-readings": Line(NO_METHOD, instructor(302)),
    # A TA of another section is refused by the section, the own one by the role.
    "choose-anchor": Line(NO_METHOD, instructor(302)),
    # Marked by every TA of the course, without names.
    "mark-compared": Line(all_teachers(200), all_teachers(200)),
    "drop-compared": Line(NO_METHOD, instructor(302)),
    "show-class": Line(all_teachers(200)),
    "print-class": Line(all_teachers(200)),
    "export-gradebook": Line(instructor(200), instructor(200)),
    "set-outside-ids": Line(NO_METHOD, instructor(302)),
}

# Numbers in addresses: they count within the object whose public id stands before them, or name
# a row that is fetched only together with it.
COUNTED = frozenset({"version", "attempt", "adjustment_id", "year", "week"})
# Words in addresses that name no object of a person.
WORDS = frozenset({"step_id", "idea", "entry", "about", "code", "token", "part"})
