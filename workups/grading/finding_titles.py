"""What a kind of finding is called in lists: the title of its rule, or plain words here."""

from __future__ import annotations

from collections.abc import Mapping

from .points.charges import ledger_titles
from .rule import RULES

# Findings that come from no rule about the plan: most from readings.
OF_READINGS: Mapping[str, str] = {
    "cannot-be-carried-out": "A step that cannot be carried out",
    "little-weighed": "Next to nothing weighed",
    "above-theoretical": "More than the theoretical yield",
    "yield-below-band": "Yield below the expected band",
    "yield-above-band": "Yield above the expected band",
    "entry-to-check": "An entry to check",
    "one-reading-recorded": "One full reading only",
    "next-to-no-product": "Next to no product in the flask weighed",
    "mixture-weighed": "A mixture weighed for the product",
    "skipped-but-needed": "Marked as skipped, but needed",
    "amount-of-nothing": "An amount of nothing",
    "two-flasks": "Two flasks weighed",
    "digits-crossed": "Digits in another order",
    "tare-missing": "No tare recorded",
    "gross-below-tare": "Gross below tare",
    "more-than-charged": "More weighed than was put in",
    "not-constant": "Last two readings do not agree",
    "too-many-decimals": "More decimals than the balance shows",
    "another-flask": "Tare and gross of different flasks",
    "another-load": "Different things on the pan at tare and gross",
    "another-balance": "Tare and gross on different balances",
    "bench-too-little-agent": "Too little drying agent at the bench",
    "drying-not-recorded": "Drying not recorded",
    "drying-skipped": "Planned drying skipped",
    "look-differs": "Drying agent looked otherwise than computed",
    "look-not-recorded": "Look of the drying agent not recorded",
}


def finding_title(code: str) -> str:
    """The title of a finding's code; the code with blanks where nothing is said of it."""
    rule = RULES.get(code)
    if rule:
        return rule.title
    return OF_READINGS.get(code) or ledger_titles().get(code) or code.replace("-", " ").capitalize()
