"""Next to nothing on the balance after a plan that brings a product to it.

The plan's checks judge the plan. Where it is right and the product is lost at the bench all the
same, whether it was written down or not, the checks that speak of the product lose a part of their
points too: a workup is done for what is weighed. From a quarter of the mass that the plan leads to
there is nothing to charge here; the yield check has its own scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from workups.words.numbers import percent

from ..assessment import Finding, Number, Strength
from ..recorded.yieldcheck import ENOUGH_DELIVERED, of_enough
from .charges import PRODUCT_CHECKS

LITTLE_WEIGHED = "little-weighed"
# Of the points of the checks that speak of the product (common practice, no source).
MOST_LOST = 1.0 / 3.0
# So much below its tare an empty flask may weigh: balance, a dried film of water.
EMPTY_G = 0.05


def share_weighed(expected_g: Sequence[float], found_g: Sequence[float | None]) -> float:
    """Mass found as share of what the plan leads to, mean over the products, each at most 1; a
    product without a mass counts as nothing, and so does an empty flask that is weighed; one with
    an impossible mass is asked about and counts as there.

    >>> share_weighed((2.0, 2.0), (1.0, None)), share_weighed((2.0,), (-1.0,))
    (0.25, 1.0)
    >>> share_weighed((2.0, 2.0), (0.0, -0.01))
    0.0
    """
    shares = [0.0 if g is None else 1.0 if g < -EMPTY_G or e <= 0 else min(1.0, max(0.0, g / e))
              for e, g in zip(expected_g, found_g, strict=True)]
    return sum(shares) / len(shares)


def little_weighed(points: Mapping[str, float], weighed: float) -> Finding | None:
    """The finding, in the check with most points to lose; None from a quarter of the mass on."""
    pool = {name: points.get(name, 0.0) for name in PRODUCT_CHECKS}
    check = max(pool, key=lambda name: pool[name])
    if weighed >= ENOUGH_DELIVERED or pool[check] <= 0:
        return None
    lost = MOST_LOST * sum(pool.values()) * (1.0 - of_enough(weighed))
    return Finding(
        LITTLE_WEIGHED,
        check,
        Strength.PRODUCT_LOSS,
        "",
        f"The plan brings the product to the balance, and {percent(weighed)} of that mass was "
        "weighed.",
        "Say where it went: which layer, which flask, which step. If it still stands somewhere, "
        "fetch it back and weigh again.",
        "A workup is done for what is weighed. Where next to nothing is, the plan alone does not "
        "earn all its points, however it came about.",
        "the mass on record beside the one that the plan leads to",
        (Number("of the mass that the plan leads to", weighed * 100, "%", reveals_yield=True),),
        cause=LITTLE_WEIGHED,
        score_loss=min(1.0, lost / pool[check]),
    )
