"""The yield check: the mass found against the band for what this student did.

The band is that of the mass on the balance, with whatever the steps as done leave in it, so that
a crude that weighs what it should is full marks.

A deviation that was explained at the bench costs half. An entry that cannot be as it is written
is asked about and judged as it was probably meant; the slip costs a tenth, and nothing once the
student speaks of it. One full reading where the plan asks for more costs a tenth.

Where the flask holds less than a quarter of what a good workup brings, or what is weighed with it
leaves less than a quarter of its worth, the points are reduced in proportion, down to none at two
hundredths, whatever the mass: there is no yield of nothing, nor of a mixture. A product without a
mass counts 0 of its share.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from workups.chemistry.readings import Readings, TargetReadings
from workups.chemistry.setup import Setup
from workups.chemistry.substances import Tables
from workups.chemistry.yields import (
    Mass,
    full_readings,
    is_constant,
    percent_yield,
    product_mass,
    theoretical_yield,
)

from ..assessment import Band, Finding, Number, Strength, TargetYield
from ..rule import ramp
from .clerical import Undone, put_right, says_slip
from .explained import loss_written_down, more_written_down

WHY = (
    "The band is what this exercise gives with the steps as you marked them and the amounts "
    "you recorded, with the uncertainty of constants, losses and balance. Inside it the yield "
    "is as it should be. Outside, the points fall off with the distance, never at a cliff. "
    "A mass above the theoretical yield is not product alone. What you wrote down at the bench "
    "about a loss, or about something else in the flask, halves what it costs."
)
SOURCE = "Monte Carlo band (JCGM 101) and GUM uncertainty (JCGM 100) of the percent yield"

# How the points fall (common practice, no source).
COVERAGE = 2.0
FALLS_OVER_MASS, FALLS_OVER_WIDTHS = 0.5, 1.5
ABOVE_THEORY_COUNTS = 2.0
EXPLAINED_SHARE = 0.5
SLIP_COSTS, ONE_READING_COSTS = 0.1, 0.1
# Shares of what a good workup brings: up to which it is nothing, and from which on it is enough to
# speak of a yield.
LEAST_DELIVERED, ENOUGH_DELIVERED = 0.02, 0.25
# Where the plan itself ruins the product, these have the plan's cause.
WRITTEN = "Say in the report how much that was, and how you know."
NO_YIELD = frozenset({"next-to-no-product", "mixture-weighed"})


def of_enough(share: float) -> float:
    """How far what is weighed is from next to nothing to enough, 0..1.

    >>> of_enough(0.02), of_enough(0.25)
    (0.0, 1.0)
    """
    return ramp(share, LEAST_DELIVERED, ENOUGH_DELIVERED)


@dataclass(frozen=True)
class Product:
    """What is weighed of a product: as share of what a good workup brings, and how much of its
    worth (0..1) is left with what is weighed beside it."""

    delivered: float = 1.0
    pure: float = 1.0

    @property
    def worth(self) -> float:
        return max(0.0, self.delivered) * self.pure


@dataclass(frozen=True)
class YieldJudgement:
    """A target's yield, its score 0..1 (None: nothing to judge) and what to say."""

    found: TargetYield
    score: float | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class _Scale:
    """What a mass is held against, in g.

    ``theory`` with its uncertainty; ``band`` for what was done; ``name`` of the product.
    """

    name: str
    theory: Mass
    band: Band

    def u_g(self, mass: Mass) -> float:
        """Standard uncertainty of the comparison: of the weighing, and of the amount used."""
        return _compared_u(mass, self.theory, self.band)

    def most_g(self, mass: Mass) -> float:
        """What there can be at most: the theoretical yield, or the band's end if that is higher."""
        theory = self.theory.g + COVERAGE * math.hypot(mass.u_g, self.theory.u_g)
        return max(theory, self.band.high + COVERAGE * self.u_g(mass))

    def score(self, mass: Mass) -> float:
        """See `yield_score`."""
        return yield_score(mass.g, self.u_g(mass), self.band, self.most_g(mass))


def _compared_u(mass: Mass, theory: Mass, band: Band) -> float:
    """Standard uncertainty [g] of a mass against a band: u^2 = u_mass^2 + (u_r/r * nominal)^2.

    u_r/r is that of the limiting reagent's weighing, by which band and theory go up and down.
    """
    share = theory.u_g / theory.g if theory.g > 0 else 0.0
    return math.hypot(mass.u_g, share * band.nominal)


def _widened(u: float, band: Band) -> tuple[float, float]:
    """The ends of a band, its nominal value inside it, widened by two standard uncertainties."""
    low, high = min(band.low, band.nominal), max(band.high, band.nominal)
    return low - COVERAGE * u, high + COVERAGE * u


def place(value: float, u: float, band: Band) -> str:
    """``inside``, ``below`` or ``above`` a band, widened by the value's own uncertainty (k=2)."""
    low, high = _widened(u, band)
    if value < low:
        return "below"
    return "above" if value > high else "inside"


def yield_score(value: float, u: float, band: Band, most: float) -> float:
    """Points for a mass, 0..1: full inside the band, falling with the distance outside it.

    The band is widened by two standard uncertainties u. Outside it the points fall in proportion
    to the distance, to none at half the band's nominal mass, or at 1.5 band widths where that is
    farther; an empty flask gets none in any case. What lies above ``most``, the theoretical yield
    or the end of the band if that is higher, counts twice: it is not credited as yield.

    >>> band = Band(3.0, 2.8, 3.2)
    >>> [round(yield_score(m, 0.0, band, 3.4), 2) for m in (1.3, 2.05, 2.8, 3.0, 3.2, 3.5, 4.0)]
    [0.0, 0.5, 1.0, 1.0, 1.0, 0.73, 0.07]
    """
    low, high = _widened(u, band)
    span = max(FALLS_OVER_MASS * abs(band.nominal), FALLS_OVER_WIDTHS * (band.high - band.low))
    if value < low:
        return max(0.0, 1.0 - (low - value) / min(span, low)) if low > 0 else 0.0
    beyond = max(value - high, 0.0) + (ABOVE_THEORY_COUNTS - 1.0) * max(value - most, 0.0)
    return max(0.0, 1.0 - beyond / span) if beyond > 0 else 1.0


def judge_yield(
    setup: Setup,
    target: str,
    readings: Readings,
    class_band: Band,
    done_band: Band,
    *,
    product: Product = Product(),
    asked: int = 1,
    charged_g: float = math.inf,
) -> YieldJudgement:
    """Judge one target's mass. Without a mass there is no score.

    Parameters
    ----------
    setup : the exercise with the amounts really used.
    target : key of the product.
    readings : the bench record.
    class_band, done_band : mass on the balance [g] by the model plan, and by the steps as done.
    product : how much of it is in the vessel that is weighed, and what it is worth there.
    asked : full readings that the plan asks for.
    charged_g : all that was put into the reaction, or what the steps lead to if that is more [g].
    """
    theory = theoretical_yield(setup, setup.tables, target)
    record = readings.targets.get(target)
    scale = _Scale(_name(setup.tables, target), theory.mass, done_band)
    most_g = scale.most_g(Mass(0.0, 0.0))
    mass = product_mass(record, setup.glassware, most_g) if record else None
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
        place(mass.g, _compared_u(mass, theory.mass, class_band), class_band),
        place(mass.g, scale.u_g(mass), done_band),
        done_band,
    )
    findings = list(_of_mass(scale, setup, readings, record, mass, charged_g))
    if full_readings(record.weighings) == 1 < asked:
        findings.append(_one_reading(asked))
    kept = max(0.0, 1.0 - sum(f.score_loss for f in findings))
    if product.worth < ENOUGH_DELIVERED:
        lost = kept * (1.0 - of_enough(product.worth))
        little = product.delivered < ENOUGH_DELIVERED
        findings.append((_nothing_there if little else _mixture)(scale.name, lost))
    score = max(0.0, 1.0 - sum(f.score_loss for f in findings))
    return YieldJudgement(found, score, tuple(findings))


def _name(tables: Tables, target: str) -> str:
    substance = tables.substances.get(target)
    return substance.name if substance else target.replace("_", " ")


def _measured(name: str, value: float, u: float, unit: str) -> Number:
    """A number that tells the yield, with two standard uncertainties to either side."""
    spread = COVERAGE * u
    return Number(name, value, unit, value - spread, value + spread, reveals_yield=True)


def _of_mass(
    scale: _Scale,
    setup: Setup,
    readings: Readings,
    record: TargetReadings,
    mass: Mass,
    charged_g: float,
) -> Iterator[Finding]:
    """What the mass says: a slip in writing, then where the mass is, as it was meant."""
    most_g = scale.most_g(mass)
    slip = put_right(record, setup.glassware, charged_g, most_g, scale.score)
    if slip is not None:
        undone, mass = slip
        yield _slip(undone, 0.0 if says_slip(record, readings) else SLIP_COSTS)
    side = place(mass.g, scale.u_g(mass), scale.band)
    if side == "inside":
        return
    written = (
        loss_written_down(readings)
        if side == "below"
        else more_written_down(readings, record, setup)
    )
    lost = (1.0 - scale.score(mass)) * (EXPLAINED_SHARE if written else 1.0)
    finding = _outside(scale, mass, side, lost)
    if written:
        thanks = f" You explained it by {written}; so it costs half of what it would."
        finding = replace(finding, message=finding.message + thanks, change=WRITTEN)
    yield finding


def _outside(scale: _Scale, mass: Mass, side: str, lost: float) -> Finding:
    percent = percent_yield(mass, scale.theory)
    numbers = (
        _measured("mass", mass.g, mass.u_g, "g"),
        _measured("percent yield", percent.percent, percent.u_percent, "%"),
    )
    if side == "below":
        return _finding(
            "yield-below-band",
            f"The mass of {scale.name} is below what your own steps lead to.",
            "Look for a loss that is not in the record: a spill, a layer or rinse "
            "left behind, bumping.",
            numbers,
            lost,
        )
    if mass.g > scale.most_g(mass):
        return _finding(
            "above-theoretical",
            f"The mass of {scale.name} is {percent.percent:.0f} % of the theoretical yield, more "
            "than there can be of the product.",
            "Say what else may be in the flask and how you would test it: solvent, water, "
            "drying agent, starting material, or a slip in the weighing.",
            numbers,
            lost,
        )
    return _finding(
        "yield-above-band",
        f"The mass of {scale.name} is above what your own steps lead to.",
        "Look for what may be weighed with the product: solvent, water, salt.",
        numbers,
        lost,
    )


def _slip(undone: Undone, lost: float) -> Finding:
    judged = "The mass is judged as it would be then"
    finding = _finding(
        "entry-to-check",
        f"A weighing cannot be as it is written. {undone.words} {judged}"
        + ("; the slip itself costs a little." if lost else "."),
        "Please check this entry against the notebook, and say in the report what happened.",
        (),
        lost,
    )
    return replace(finding, question=True)


def _one_reading(asked: int) -> Finding:
    return _finding(
        "one-reading-recorded",
        f"There is one full reading where the plan asks for {asked}, so nothing shows that the "
        "mass was constant.",
        "Weigh until two readings agree, and write all of them down.",
        (),
        ONE_READING_COSTS,
    )


def _mixture(name: str, lost: float) -> Finding:
    return _finding(
        "mixture-weighed",
        f"By these steps the flask that is weighed holds a mixture with {name} in it: its mass is "
        "no yield.",
        "Find what is weighed with the product, and the step that should have taken it out.",
        (),
        lost,
    )


def _nothing_there(name: str, lost: float) -> Finding:
    return _finding(
        "next-to-no-product",
        f"By these steps the flask that is weighed holds next to no {name}: its mass is no yield.",
        "Follow the product through the plan and find where it stayed.",
        (),
        lost,
    )


def _finding(
    code: str, message: str, change: str, numbers: tuple[Number, ...], lost: float
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
        charged=lost > 0,
        score_loss=round(lost, 6),
    )
