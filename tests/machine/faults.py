"""What may befall the program while it computes: it is killed, or the core cannot go on."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from unittest.mock import Mock, patch

from workups.chemistry.conservation import NotConserved

FINE, STOPS, STUMBLES = "fine", "stops", "stumbles"
COMPUTING = ("assess", "_assess_plan", "_assess_publicly")
_RAISED = {
    STOPS: SystemExit("killed"),
    STUMBLES: NotConserved("water: an amount became negative (-3 mmol)"),
}


@contextmanager
def befalls(fault: str) -> Iterator[None]:
    """Around one request. Killed, the program gives no answer: `SystemExit` comes out."""
    with ExitStack() as broken:
        for name in COMPUTING if fault in _RAISED else ():
            where = f"workups.services.assessments.{name}"
            broken.enter_context(patch(where, Mock(side_effect=_RAISED[fault])))
        yield
