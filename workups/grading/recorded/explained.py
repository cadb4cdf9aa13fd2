"""What a student wrote down at the bench that explains a yield outside its band.

Counted as evidence is what was recorded before the band could be known: a remark at a step, or a
sign of purity that was noted. What the report says afterwards is for the TA to weigh. A corrected
entry needs no explanation: the correction is what is judged.

The words are common practice, no source; who explains in other words, or in another language, is
left to the TA, who can overrule the finding.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import chain

from workups.chemistry.readings import Readings, TargetReadings
from workups.chemistry.setup import Setup

from ..diagnosis.record import noted

_GLASS = r"(flask|funnel|vial|beaker|glass)"
_LOSS = re.compile(
    r"\b(spill|spilt|leak|lost\b|loss|losing\b|lose\b|bump|overflow|splash|knocked|dropped)"
    r"|boil(ed|ing)? over|ran out of the|tap (was )?open|(poured|threw|thrown) away"
    rf"|broke(n)? (the |a |my )?{_GLASS}|{_GLASS} (was )?(broke|crack)",
    re.IGNORECASE,
)
_MORE = re.compile(r"smell|smelt|solvent|\bwet\b|cloud|powder|agent (got|went|came)", re.IGNORECASE)
_NOT = re.compile(r"\b(no|not|nothing|none|never|without|free of|didn.t)\b", re.IGNORECASE)
_CLAUSE = re.compile(r"[.;,!?]|\bbut\b", re.IGNORECASE)
_FOREIGN_SIGNS = frozenset({"solvent", "acid", "cloudy", "grit", "spot", "band", "off"})


def loss_written_down(readings: Readings) -> str:
    """The remark that tells of a loss, as words for a finding; empty where there is none."""
    return next(_remarks(readings, _LOSS), "")


def more_written_down(readings: Readings, record: TargetReadings, setup: Setup) -> str:
    """The sign or remark that something else is in the flask; empty where there is none."""
    return next(chain(_signs(record, setup), _remarks(readings, _MORE)), "")


def _remarks(readings: Readings, pattern: re.Pattern[str]) -> Iterator[str]:
    for done in readings.steps:
        clauses = _CLAUSE.split(done.remark)
        if any(pattern.search(c) and not _NOT.search(c) for c in clauses):
            yield f"the remark at \u2018{done.step.title}\u2019: \u201c{done.remark.strip()}\u201d"


def _signs(record: TargetReadings, setup: Setup) -> Iterator[str]:
    for witness in record.witnesses:
        sign = noted(witness, setup)
        off = sign is not None and (sign.what in _FOREIGN_SIGNS or witness.agrees is False)
        if off:
            yield f"what was noted for {witness.kind}: \u201c{witness.text.strip()}\u201d"
