"""The yield check: the mass found against the band for what this student did."""

from __future__ import annotations

from dataclasses import dataclass

from workups.chemistry.readings import Readings
from workups.chemistry.setup import Setup
from workups.chemistry.substances import Tables
from workups.chemistry.yields import (
    Mass,
    PercentYield,
    is_constant,
    percent_yield,
    product_mass,
    theoretical_yield,
)

from .assessment import Band, Finding, Number, Strength, TargetYield

WHY = (
    "The band is what this exercise gives with the steps as you marked them and the amounts "
    "you recorded, with the uncertainty of constants, losses and balance. Inside it the yield "
    "is as it should be. Outside, the points fall off with the distance, never at a cliff. "
    "A mass above the theoretical yield is not product alone."
)
SOURCE = "Monte Carlo band (JCGM 101) and GUM uncertainty (JCGM 100) of the percent yield"
FALL_OFF = 1.5


@dataclass(frozen=True)
class YieldJudgement:
    """A target's yield, its score 0..1 (None: nothing to judge) and what to say."""

    found: TargetYield
    score: float | None
    findings: tuple[Finding, ...]


def place(value: float, u: float, band: Band) -> str:
    """``inside``, ``below`` or ``above`` a band, widened by the value's own uncertainty (k=2)."""
    if value < band.low - 2 * u:
        return "below"
    return "above" if value > band.high + 2 * u else "inside"


def band_score(value: float, u: float, band: Band) -> float:
    """1 inside the widened band; outside it falls linearly to 0 over 1.5 band widths (at least
    a quarter of the nominal mass)."""
    low, high = band.low - 2 * u, band.high + 2 * u
    distance = max(low - value, value - high, 0.0)
    width = max(FALL_OFF * (band.high - band.low), 0.25 * abs(band.nominal), 1e-9)
    return max(0.0, 1.0 - distance / width)


def judge_yield(
    setup: Setup,
    tables: Tables,
    target: str,
    readings: Readings,
    class_band: Band,
    done_band: Band,
) -> YieldJudgement:
    """Judge one target's mass. Without readings there is no score, and none is needed."""
    theory = theoretical_yield(setup, tables, target)
    record = readings.targets.get(target)
    mass = product_mass(record, setup.glassware) if record else None
    if record is None or mass is None:
        nothing = TargetYield(
            target, None, None, theory.mass.g, None, None, None, "", "", done_band
        )
        return YieldJudgement(nothing, None, ())
    percent = percent_yield(mass, theory.mass)
    found = TargetYield(
        target,
        mass.g,
        mass.u_g,
        theory.mass.g,
        percent.percent,
        percent.u_percent,
        is_constant(record.weighings),
        place(mass.g, mass.u_g, class_band),
        place(mass.g, mass.u_g, done_band),
        done_band,
    )
    above = percent.percent - 2 * percent.u_percent > 100.0
    score = 0.0 if mass.g <= 0 or above else band_score(mass.g, mass.u_g, done_band)
    return YieldJudgement(
        found, score, tuple(_findings(found, _name(tables, target), mass, percent, above, score)),
    )


def _name(tables: Tables, target: str) -> str:
    substance = tables.substances.get(target)
    return substance.name if substance else target.replace("_", " ")


def _measured(name: str, value: float, u: float, unit: str) -> Number:
    """A number that tells the yield, with two standard uncertainties to either side."""
    return Number(name, value, unit, value - 2 * u, value + 2 * u, reveals_yield=True)


def _findings(
    found: TargetYield, name: str, mass: Mass, percent: PercentYield, above: bool, score: float
) -> list[Finding]:
    numbers = (
        _measured("mass", mass.g, mass.u_g, "g"),
        _measured("percent yield", percent.percent, percent.u_percent, "%"),
    )
    if above:
        return [
            _finding(
                "above-theoretical",
                f"The mass of {name} is {percent.percent:.0f} % of the theoretical yield, more "
                "than there can be of the product.",
                "Say what else may be in the flask and how you would test it: solvent, water, "
                "drying agent, starting material, or a slip in the weighing.",
                numbers,
                score,
            )
        ]
    if found.in_done_band == "below":
        return [
            _finding(
                "yield-below-band",
                f"The mass of {name} is below what your own steps lead to.",
                "Look for a loss that is not in the record: a spill, a layer or rinse "
                "left behind, bumping.",
                numbers,
                score,
            )
        ]
    if found.in_done_band == "above":
        return [
            _finding(
                "yield-above-band",
                f"The mass of {name} is above what your own steps lead to.",
                "Look for what may be weighed with the product: solvent, water, salt.",
                numbers,
                score,
            )
        ]
    return []


def _finding(
    code: str, message: str, change: str, numbers: tuple[Number, ...], score: float
) -> Finding:
    return Finding(
        code,
        "yield",
        Strength.ADVICE,
        "",
        message,
        change,
        WHY,
        SOURCE,
        numbers,
        cause=code,
        charged=True,
        score_loss=round(1.0 - score, 6),
    )
