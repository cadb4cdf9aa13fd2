"""The slips that a mass can be explained by, with how likely each is before a record is seen.

One list (``data/slips.toml``) for the diagnosis and for the invented students: titles, priors,
questions. How a slip comes about and how it is recognised stands elsewhere, apart for each of the
two. That the two share weights and usual sizes is why good figures on invented students
(``tests/bench/diagnosis``) say that the diagnosis adds up, and not that it is right about real
ones.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files

NOTHING_WRONG = "nothing-wrong"
SOMETHING_ELSE = "something-else"
TECHNIQUE, RECORDING, OTHER = "technique", "recording", "other"


@dataclass(frozen=True)
class Slip:
    """A single slip: what it is, its prior weight (grade P: common practice, no source), why, and a
    question to ask: open, about the work, never an accusation.

    ``mass_group`` is shared by slips that act on the mass in the same way, so that the mass alone
    does not tell them apart.
    """

    key: str
    title: str
    prior: float
    reason: str
    kind: str
    mass_group: str
    question: str


def _listed() -> Mapping[str, Slip]:
    text = (files("workups.grading") / "data" / "slips.toml").read_text(encoding="utf-8")
    return {key: Slip(key, **row) for key, row in tomllib.loads(text).items()}


SLIPS: Mapping[str, Slip] = _listed()


def priors(own: Mapping[str, float]) -> Mapping[str, float]:
    """Prior probability of each slip, by key: the table with an exercise's own weights.

    Unknown keys are left aside; all weights zero gives the table. They sum to 1.
    """
    weights = {k: max(0.0, float(own.get(k, s.prior))) for k, s in SLIPS.items()}
    total = sum(weights.values())
    if total <= 0:
        return priors({})
    return {k: w / total for k, w in weights.items()}
