"""All rules of grading. Importing this package registers them."""

from . import (
    bookkeeping,
    brine,
    choices,
    choices_bench,
    cosolvent,
    drying,
    drying_agent,
    filtering,
    gas,
    layers,
    parting_ways,
    quench,
    sequence,
    setting_free,
    washing,
    waste,
)

__all__ = [
    "bookkeeping",
    "brine",
    "choices",
    "choices_bench",
    "cosolvent",
    "drying",
    "drying_agent",
    "filtering",
    "gas",
    "layers",
    "parting_ways",
    "quench",
    "sequence",
    "setting_free",
    "washing",
    "waste",
]
