"""The same exercise in another form: another solvent, scale, sample or chemical.

``varied`` is a pure function of an exercise, a variant and a seed. What depends on the change is
found by carrying the plan out (``following``): the layer that is kept, portions until the goal,
brine, agent, bath and pressure, waste streams, the funnel; a goal that cannot be reached is lowered
aloud. A step is asked what it uses, so that a new kind of step needs nothing here. Sentences of the
texts that name what is gone are left out and listed (``prose``).

The text that a student has is frozen as an ``OwnExercise`` on the work and on every assessment:
read it by ``work.to_core()`` and ``snapshot.exercise_to_core()``, never by the revision. Amounts of
a student's own are drawn from the person and the exercise's key (``amounts``). Nothing on a
student's page names a variant.
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
