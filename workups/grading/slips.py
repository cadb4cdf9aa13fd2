"""The slips that a mass can be explained by, with how likely each is before a record is seen.

One list for the diagnosis and for the simulated students: keys, titles and priors. How a slip
comes about and how it is recognised stands elsewhere, apart for each of the two. That the two
share weights and usual sizes is why good figures on simulated students (``tests/bench/diagnosis``)
say that the diagnosis adds up, and not that it is right about real ones.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

NOTHING_WRONG = "nothing-wrong"
SOMETHING_ELSE = "something-else"
TECHNIQUE, RECORDING, OTHER = "technique", "recording", "other"


@dataclass(frozen=True)
class Slip:
    """A single slip: what it is, its prior weight (grade P: common practice, no source), why.

    ``mass_group`` is shared by slips that act on the mass in the same way, so that the mass alone
    does not tell them apart.
    """

    key: str
    title: str
    prior: float
    reason: str
    kind: str
    mass_group: str


_ROWS: tuple[tuple[str, str, float, str, str, str], ...] = (
    (
        NOTHING_WRONG,
        "Nothing beyond what is recorded",
        0.50,
        "most careful work is ordinary work",
        OTHER,
        "none",
    ),
    (
        "single-portion",
        "All the solvent in one portion",
        0.02,
        "saves time; seen in every section",
        TECHNIQUE,
        "extraction",
    ),
    (
        "one-portion-fewer",
        "One extraction portion fewer than planned",
        0.02,
        "portions are counted from memory",
        TECHNIQUE,
        "extraction",
    ),
    (
        "later-extractions-skipped",
        "Only the first extraction was done",
        0.02,
        "the later portions look empty",
        TECHNIQUE,
        "extraction",
    ),
    (
        "not-mixed",
        "The layers were not really mixed",
        0.03,
        "a classic of the separatory funnel",
        TECHNIQUE,
        "loss",
    ),
    (
        "layer-partly-lost",
        "Some of the product layer went with the other one",
        0.03,
        "the interface is hard to see and the tap is quick",
        TECHNIQUE,
        "loss",
    ),
    (
        "wash-took-product",
        "More washing than planned took product along",
        0.01,
        "matters only where the product dissolves in water",
        TECHNIQUE,
        "loss",
    ),
    (
        "no-rinse",
        "Nothing was rinsed after",
        0.03,
        "rinses are the first thing to go when time is short",
        TECHNIQUE,
        "loss",
    ),
    (
        "no-agent",
        "No drying agent was used",
        0.01,
        "rare: the step has its own place on the bench",
        TECHNIQUE,
        "water",
    ),
    (
        "too-little-agent",
        "Too little drying agent",
        0.03,
        "a spatula tip looks like enough",
        TECHNIQUE,
        "water",
    ),
    (
        "agent-in-flask",
        "The drying agent was not filtered off",
        0.01,
        "seen, and told by the white solid",
        TECHNIQUE,
        "agent",
    ),
    (
        "fines",
        "Fine drying agent came through the filter",
        0.02,
        "powder through coarse or torn paper",
        TECHNIQUE,
        "agent",
    ),
    (
        "solvent-left",
        "Solvent was still in the product",
        0.04,
        "the commonest reason for a yield that is too high",
        TECHNIQUE,
        "solvent",
    ),
    (
        "product-evaporated",
        "Product went off with the solvent",
        0.02,
        "matters only where the product is volatile",
        TECHNIQUE,
        "loss",
    ),
    (
        "spilled",
        "Product was spilled or bumped over",
        0.03,
        "flasks too full, vacuum too soon",
        TECHNIQUE,
        "loss",
    ),
    (
        "aqueous-carried-over",
        "Water was carried over from the funnel",
        0.02,
        "the interface again, the other way round",
        TECHNIQUE,
        "water",
    ),
    (
        "incomplete-reaction",
        "The reaction had not gone as far as usual",
        0.02,
        "short or cool reaction, a reagent past its best",
        TECHNIQUE,
        "unreacted",
    ),
    (
        "acid-left",
        "Acid, or a phenol, was left in the product",
        0.01,
        "a base wash missed or too small",
        TECHNIQUE,
        "acid",
    ),
    (
        "wrong-layer",
        "The product layer was thrown away",
        0.02,
        "unlabelled layers; the heavier solvent",
        TECHNIQUE,
        "gone",
    ),
    (
        "tare-gross-swapped",
        "Tare and gross were written in each other's place",
        0.01,
        "two boxes side by side",
        RECORDING,
        "swapped",
    ),
    (
        "digits-swapped",
        "Two digits of a reading changed places",
        0.02,
        "the commonest slip in copying numbers",
        RECORDING,
        "digits",
    ),
    (
        "factor-1000",
        "Milligrams were written as grams",
        0.005,
        "rare: the display names its unit",
        RECORDING,
        "unit",
    ),
    (
        "wrong-decimal",
        "The decimal point of a reading is one place off",
        0.005,
        "rare in copying, plain when it happens",
        RECORDING,
        "decimal",
    ),
    (
        "object-at-gross",
        "Something was on the pan at gross only",
        0.02,
        "stir bar, chips, stopper, cork ring or label",
        RECORDING,
        "offset",
    ),
    (
        "object-at-tare",
        "Something was on the pan at tare only",
        0.01,
        "a label or stopper taken off later",
        RECORDING,
        "offset",
    ),
    (
        "another-flask",
        "The tare belongs to another flask",
        0.01,
        "flasks look alike",
        RECORDING,
        "offset",
    ),
    (
        "weighed-warm",
        "The flask was weighed warm",
        0.02,
        "the end of the session is near",
        RECORDING,
        "warm",
    ),
    (
        "not-constant",
        "The mass was still falling",
        0.03,
        "one reading, or two that do not agree",
        RECORDING,
        "solvent",
    ),
    (
        "volume-read-early",
        "A volume was read before the extracts were combined",
        0.02,
        "the funnel is at hand; the flask they are poured together in comes later",
        RECORDING,
        "none",
    ),
    (
        SOMETHING_ELSE,
        "Something that is not on this list",
        0.03,
        "no list is complete",
        OTHER,
        "unknown",
    ),
)

SLIPS: Mapping[str, Slip] = {row[0]: Slip(*row) for row in _ROWS}


def priors(own: Mapping[str, float]) -> Mapping[str, float]:
    """Prior probability of each slip, by key: the table with an exercise's own weights.

    Unknown keys are left aside; all weights zero gives the table. They sum to 1.
    """
    weights = {k: max(0.0, float(own.get(k, s.prior))) for k, s in SLIPS.items()}
    total = sum(weights.values())
    if total <= 0:
        return priors({})
    return {k: w / total for k, w in weights.items()}
