"""The one boundary around the core: whatever it raises leaves here as `CannotBeCarriedOut`.

Nothing else catches what the core raises. Trouble of the database is not the core's: it goes
through, and the page says so (503).
"""

import logging
import secrets
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import DatabaseError, InterfaceError

from workups.chemistry.materials import UnknownMaterial
from workups.chemistry.plan import PlanError
from workups.chemistry.steps import MissingFlask
from workups.services.refusals import Refused

logger = logging.getLogger(__name__)

# What lies in the plan itself, in words meant for whoever wrote it.
_OF_THE_PLAN = (MissingFlask, UnknownMaterial, PlanError)
# While an exercise is being written, its numbers and names may be anything: its author is told.
_OF_A_DRAFT = (LookupError, ValueError, ArithmeticError)


class CannotBeCarriedOut(Refused):
    """A plan or record that could not be computed.

    `reason` is the core's own word. `token` names the log entry where the program is to blame
    rather than the plan; it is empty for a plan that no flask can follow. As text it is a clause
    for whoever reads the page: no names of the program's parts, no blame where there is none.
    """

    def __init__(self, reason: str, token: str = "") -> None:
        super().__init__(reason, token)
        self.reason = reason
        self.token = token

    def __str__(self) -> str:
        if not self.token:
            return self.reason
        return (
            "Labcourse could not work it out, which is no mistake of the student's; "
            f"the administrator finds the cause under {self.token}"
        )


    @property
    def for_author(self) -> str:
        """For whoever writes the exercise and can mend it: the core's own word, and the token."""
        return f"{self.reason} ({self.token})" if self.token else self.reason


@contextmanager
def computing(what: str, *, for_author: bool = False) -> Iterator[None]:
    """Around every call of the core; `what` says in the log what was being computed.

    `for_author`: of an exercise that is being written, by whoever can mend it.
    """
    of_its_author = (*_OF_THE_PLAN, *_OF_A_DRAFT) if for_author else _OF_THE_PLAN
    try:
        yield
    except (CannotBeCarriedOut, DatabaseError, InterfaceError):
        raise
    except of_its_author as problem:
        raise CannotBeCarriedOut(_words_of(problem)) from problem
    except Exception as problem:
        token = secrets.token_hex(4).upper()
        logger.exception("%s: %s could not be computed", token, what)
        raise CannotBeCarriedOut(_words_of(problem), token) from problem


def _words_of(problem: Exception) -> str:
    # A KeyError shows its text in quotation marks.
    said = str(problem.args[0]) if problem.args else ""
    return said or type(problem).__name__
