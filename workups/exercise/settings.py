"""The points on which instructors differ: every setting an exercise may choose, with its values.

A setting left out stands at its default, and the default is the one that asks least of a plan,
but for drying, which most courses teach as a step of its own. What a chosen setting means for a
plan is said by the rules that read it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Setting:
    """One setting: its title, its default, and the words it may take or the range of its number."""

    title: str
    default: str
    values: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    unit: str = ""

    def complaint(self, value: str) -> str:
        """What is wrong with a value; empty where it can be used."""
        if self.values:
            return "" if value in self.values else f"expected one of {', '.join(self.values)}"
        expected = f"expected a number from {self.low:g} to {self.high:g} {self.unit}".rstrip()
        try:
            number = float(value)
        except ValueError:
            return expected
        assert self.low is not None
        assert self.high is not None
        return "" if self.low <= number <= self.high else expected


SETTINGS: Mapping[str, Setting] = {
    "brine": Setting(
        "Brine before the drying agent",
        "expected",
        ("free", "advised", "expected", "required"),
    ),
    "co2_limit_mL": Setting(
        "Gas from a carbonate wash above which water has to come first",
        "500",
        low=20,
        high=5000,
        unit="mL",
    ),
    "water_between": Setting(
        "Water between an acid and a carbonate wash", "free", ("free", "expected")
    ),
    "last_wash": Setting(
        "What a neutral product is washed with last, brine and water aside",
        "free",
        ("free", "acid", "base"),
    ),
    "wash_loss_limit_percent": Setting(
        "Product lost in washings above which they have to be extracted again",
        "5",
        low=0.5,
        high=50,
        unit="%",
    ),
    "extraction_check": Setting(
        "Testing by TLC whether the extraction is complete", "free", ("free", "TLC")
    ),
    "combine": Setting("When extracts are combined", "either", ("either", "before washing")),
    "quench_with": Setting(
        "What a reactive reagent is quenched with",
        "either",
        ("either", "ammonium chloride", "dilute acid"),
    ),
    "cosolvent_removal": Setting(
        "What is done about a solvent that mixes with water",
        "either",
        ("either", "evaporate", "dilute"),
    ),
    "drying": Setting(
        "Drying agent before the solvent comes off",
        "expected",
        ("free", "by computed water", "expected", "required"),
    ),
    "drying_amount": Setting(
        "How much drying agent", "either", ("either", "free-flowing", "weighed")
    ),
    "agent_removal": Setting("How the drying agent is taken off", "either", ("either", "filter")),
    "overnight_over_agent": Setting(
        "Leaving a solution over its drying agent until the next day", "fine", ("fine", "avoid")
    ),
    "tare": Setting("When the flask is tared", "either", ("either", "before")),
    "cooling": Setting(
        "A step of its own for cooling before the weighing", "free", ("free", "expected")
    ),
    "constant_mass": Setting(
        "A second weighing that agrees with the first", "free", ("free", "required")
    ),
    "labels": Setting(
        "Labels on flasks that stand side by side", "advised", ("advised", "required")
    ),
    "dichloromethane": Setting("Dichloromethane", "allowed", ("allowed", "not allowed")),
}
