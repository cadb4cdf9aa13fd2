"""The same exercise in another form: another solvent, scale, sample or chemical.

``varied`` is a pure function of an exercise, a variant and a seed. What depends on the change
follows by simulation: which layer is kept, how many portions, brine, drying agent, pressure,
waste streams, the size of the funnel.
"""

from .apply import VariantDoesNotFit, Varied, for_student, varied
from .variant import AmountSpread, Swap, Variant, variant_from_data, variant_to_data

__all__ = [
    "AmountSpread",
    "Swap",
    "Variant",
    "VariantDoesNotFit",
    "Varied",
    "for_student",
    "variant_from_data",
    "variant_to_data",
    "varied",
]
