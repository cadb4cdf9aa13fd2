"""What a rule of grading is: prose that students read, a search for breaches, and a mend.

A rule is a function over a ``Case`` that yields breaches. What students read of it stands in a file
of its own beside the rules (``rules/texts``): title, source, the help page, and what is said of a
breach. Each breach carries the plan with just that one thing mended, so that its cost is the plan
minus the mended plan, and a way to word the finding once the cost is known.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.plan import Plan
from workups.chemistry.sums import percentile

from .assessment import Band, Number, Strength
from .case import Case

Array = NDArray[np.float64]

LOSS = 0.05
# Of the draws, the share that is counted of a loss: the hardest quarter is not sure.
SURE_DRAWS = 0.75
WORTH_SHOWING, ENOUGH_TO_COMPARE, MINUTES_WORTH_SHOWING = 0.001, 0.2, 5.0


@dataclass(frozen=True)
class Cost:
    """The plan against the mended plan, for the target that suffers most.

    ``lost`` share of the target lost (0..1); ``foreign`` water, salt and agent added to what is
    weighed, as share of the target there was; ``acid``, ``solvent`` and ``other`` (starting
    material and the like) likewise; ``minutes`` longer by what the steps take. ``share_before`` and
    ``share_mended`` of the target that each plan ends with.
    """

    target: str
    lost: Band
    foreign: Band
    acid: Band
    solvent: Band
    other: Band
    minutes: float
    share_before: float
    share_mended: float

    @property
    def is_loss(self) -> bool:
        """Whether the model is sure of a real loss: 5 % even at its low end."""
        return is_sure(self.lost)

    def loss_strength(self) -> Strength:
        """Product loss where the model is sure of it, else advice."""
        return Strength.PRODUCT_LOSS if self.is_loss else Strength.ADVICE

    def numbers(self) -> tuple[Number, ...]:
        """The costs worth showing, as numbers with units.

        Only what the fault adds; and what is in the product only where both plans have some.
        """
        bands = [("product lost", self.lost)]
        if min(self.share_before, self.share_mended) >= ENOUGH_TO_COMPARE:
            bands += [
                ("water, salt and drying agent in the product", self.foreign),
                ("acid in the product", self.acid),
                ("solvent in the product", self.solvent),
                ("other substances in the product", self.other),
            ]
        shown = [
            Number(name, band.nominal * 100, "%", band.low * 100, band.high * 100)
            for name, band in bands
            if band.nominal >= WORTH_SHOWING
        ]
        if self.minutes >= MINUTES_WORTH_SHOWING:
            shown.append(Number("time it takes more", self.minutes, "min"))
        return tuple(shown)


@dataclass(frozen=True)
class Remark:
    """The wording of a finding once its cost is known."""

    strength: Strength
    message: str
    change: str
    numbers: tuple[Number, ...] = ()
    score_loss: float = 0.0


@dataclass(frozen=True)
class Breach:
    """One breach of a rule at a step; ``mended`` is the smallest change that removes it."""

    step: str
    say: Remark | Callable[[Cost | None], Remark]
    mended: Plan | None = None

    def remark(self, cost: Cost | None) -> Remark:
        """The wording, with the cost where it is part of it."""
        return self.say if isinstance(self.say, Remark) else self.say(cost)


@dataclass(frozen=True)
class Rule:
    """A rule of grading. ``text`` is the prose shown to students, ``source`` where it is from."""

    code: str
    check: str
    title: str
    source: str
    find: Callable[[Case], Iterator[Breach]]
    text: str
    stage: int


RULES: dict[str, Rule] = {}


@lru_cache
def _words(topic: str) -> Mapping[str, Mapping[str, Any]]:
    text = files("workups.grading.rules") / "texts" / f"{topic}.toml"
    return tomllib.loads(text.read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Words:
    """What students read of the rules of one topic, ``rules/texts/TOPIC.toml``."""

    topic: str

    def __call__(self, code: str, wording: str = "", **parts: object) -> tuple[str, str]:
        """What is said of a breach, and the change that mends it, with the parts put in."""
        said = _words(self.topic)[code]
        said = said[wording] if wording else said
        return said["message"].format(**parts), said["change"].format(**parts)


def rule(
    code: str, *, check: str, title: str = "", source: str = "", stage: int = 2
) -> Callable[[Callable[[Case], Iterator[Breach]]], Callable[[Case], Iterator[Breach]]]:
    """Register a rule. ``stage`` orders causes: 0 what stops the plan, 1 product, 2 the rest,
    3 drying, 4 bookkeeping and 5 what is information only; earlier stages are mended first.

    A rule without a ``title`` here has it, its source and its help page in the file of its topic;
    of one with a title the docstring is the page.
    """

    def register(find: Callable[[Case], Iterator[Breach]]) -> Callable[[Case], Iterator[Breach]]:
        if code in RULES:
            raise ValueError(f"rule {code!r} is registered twice")
        own = {"title": title, "source": source, "text": (find.__doc__ or "").strip()}
        words = own if title else _words(find.__module__.rpartition(".")[2])[code]
        RULES[code] = Rule(
            code, check, words["title"], words["source"], find, words["text"], stage)
        return find

    return register


def band(values: Array, unit: str = "1") -> Band:
    """Nominal value (draw 0) with the 5th and 95th percentile over the draws."""
    return Band(float(values[0]), percentile(values, 5.0), percentile(values, 95.0), unit)


def is_sure(lost: Band, most: float = LOSS) -> bool:
    """Whether a loss (shares, 0..1) is one at 95 % certainty: its lower end reaches what a loss
    without any doubt has to reach.

    >>> is_sure(Band(0.08, 0.02, 0.20)), is_sure(Band(0.05, 0.05, 0.05))
    (False, True)
    """
    return lost.low >= most


def sure(values: Array, counted_share: float = SURE_DRAWS) -> float:
    """What is charged of a loss over the draws (N,): the mean without the largest of them.

    >>> sure(np.array([0.3, 0.3])), round(sure(np.array([0.0, 0.1, 0.2, 0.7])), 9)
    (0.3, 0.1)
    """
    counted = math.ceil(counted_share * len(values))
    return float(np.sort(values)[:counted].mean())


def ramp(value: float, start: float, full: float) -> float:
    """How far a value is from a limit to where it counts whole, 0..1: what is taken for a computed
    amount starts at nothing there, or a hair's breadth of an estimate would decide over points.

    >>> ramp(1.0, 1.0, 3.0), ramp(2.0, 1.0, 3.0), ramp(9.0, 1.0, 3.0)
    (0.0, 0.5, 1.0)
    """
    return min(1.0, max(0.0, (value - start) / (full - start)))


def cost_of(case: Case, mended: Case) -> Cost:
    """Cost of a breach: each target's end compared draw by draw, the worst one reported."""
    costs = []
    minutes = case.minutes - mended.minutes
    for here, there in zip(case.measures(), mended.measures(), strict=True):
        product_g = np.maximum(there.available_g, 1e-9)
        foreign_here = here.water_g + here.salt_g + here.agent_g
        foreign_there = there.water_g + there.salt_g + there.agent_g
        costs.append(
            Cost(
                here.target,
                band(there.share - here.share),
                band((foreign_here - foreign_there) / product_g),
                band((here.acid_g - there.acid_g) / product_g),
                band((here.solvent_g - there.solvent_g) / product_g),
                band((here.other_g - there.other_g) / product_g),
                minutes,
                float(here.share[0]),
                float(there.share[0]),
            )
        )
    return max(costs, key=_weight)


def _weight(cost: Cost) -> float:
    return max(cost.lost.nominal, cost.foreign.nominal, cost.acid.nominal, cost.solvent.nominal)
