"""How invented students differ from what the list of slips takes for granted."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Habits:
    """``size`` times as much goes wrong in a slip, and slips are ``prior`` times as frequent.

    1 and 1 are the students that the diagnosis expects. Whatever has no size (swapped digits, the
    wrong layer, a step left out) is as it is; no more than everything is lost.
    """

    size: float = 1.0
    prior: float = 1.0

    def weight(self, slip: str, usual: float, nothing_wrong: str) -> float:
        """How often a slip is made, over how often nothing is."""
        return usual if slip == nothing_wrong else usual * self.prior


AS_EXPECTED = Habits()


def shortfall(part: float, size: float, least: float = 0.02) -> float:
    """What is left of 1 if ``size`` times as much is missing as where ``part`` is left.

    >>> shortfall(0.5, 0.5), shortfall(0.25, 2.0)
    (0.75, 0.02)
    """
    return max(least, 1.0 - (1.0 - part) * size)
