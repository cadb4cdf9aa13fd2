"""Hazard statements of what a flask or a waste container holds, from its parts and its pH."""

from collections.abc import Iterable, Mapping

from workups.chemistry.substances import Tables
from workups.words.material_facts import hazard_codes, hazard_words

# Shares of the mass from which a substance gives its hazard statements: lower for grave ones.
# Simplified from the generic limits for mixtures in the GHS (recalled, grade B).
_HAZARD_SHARE, _GRAVE_SHARE = 0.05, 0.01
_GRAVE_WORDS = frozenset(
    (
        "toxic",
        "may harm the unborn child or fertility",
        "cancer or gene damage possible",
        "sensitiser",
        "damages organs",
    )
)
# The pH outside which a mixture counts as corrosive in the GHS.
_CORROSIVE_BELOW_PH, _CORROSIVE_ABOVE_PH = 2.0, 11.5


def mixture_hazards(
    grams: Mapping[str, float], pHs: Iterable[float], known: Tables
) -> tuple[str, ...]:
    """Hazard statements of a mixture, sorted: masses [g] by substance, pH of each water layer."""
    corrosive = any(not _CORROSIVE_BELOW_PH < pH < _CORROSIVE_ABOVE_PH for pH in pHs)
    codes = {"H314"} if corrosive else set()
    whole = sum(grams.values())
    for key, mass_g in grams.items():
        share = mass_g / whole if whole > 0 else 0.0
        codes.update(code for code in hazard_codes(key, known) if share >= _least_share(code))
    return tuple(sorted(codes))


def _least_share(code: str) -> float:
    return _GRAVE_SHARE if _GRAVE_WORDS & set(hazard_words([code])) else _HAZARD_SHARE
