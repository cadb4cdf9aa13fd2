"""Findings of one assessment that cannot both be meant.

Each pair is two things a finding may say (its message and its advice together), and whether only
the same step makes them contradict. The pairs were found by reading the findings of the stories
side by side.
"""

from __future__ import annotations

from itertools import permutations

from workups.grading.assessment import Assessment

from .planted import findings

SAME_STEP, ANYWHERE = True, False
PAIRS = (
    ("never dried", "shaken with water again", ANYWHERE),
    ("is still a salt", "more or larger portions", SAME_STEP),
    ("is still a salt", " portions of ", SAME_STEP),
    ("rinse the cake", "which stays on the filter", SAME_STEP),
    ("Rinse the solid", "binds", SAME_STEP),
    ("finds nothing to remove", "Repeat the wash", SAME_STEP),
    ("finds nothing to remove", "This wash leaves", SAME_STEP),
    ("in the water layer (pH", "The upper layer, which goes", SAME_STEP),
    ("Without brine the drying agent", "mostly water", SAME_STEP),
    ("asks for", "Far too much", SAME_STEP),
    ("not in the record", "You explained it", ANYWHERE),
)


def contradictions(assessment: Assessment) -> list[str]:
    """Pairs of sentences that contradict each other, as they are said."""
    said = [(f.step, f"{f.message} {f.change}") for f in findings(assessment)]
    one_by_itself = [text for _, text in said for a, b, _ in PAIRS
                     if a in text and b in text and a == "not in the record"]
    return one_by_itself + [
        f"{one} / {other}"
        for (step, one), (there, other) in permutations(said, 2)
        for a, b, same in PAIRS
        if a in one and b in other and one != other and (step == there or not same)]
