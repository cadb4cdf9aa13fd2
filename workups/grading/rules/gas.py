"""Rules about gas and pressure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from workups.chemistry.constants import ATMOSPHERE_PA
from workups.chemistry.facts import ShakeFacts
from workups.chemistry.limits import LITTLE_GAS_ML
from workups.chemistry.plan import Cool, Parting, Plan, Wash
from workups.chemistry.sums import percentile
from workups.words.numbers import percent, rounded

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Cost, Remark, ramp, rule
from .meeting import Meeting, Part, meetings

LEAST_GAS_ML = 1.0
VAPOUR_GAUGE_KPA = 10.0
USED_UP_PH, WATER_HELPS, SAID_LESS, BULK_LEFT, MOST_WATER = 6.0, 0.8, 0.95, 0.5, 3
# Shares of the check (common practice, no source): gas at twice the limit; a wash that is used up
# and leaves acid worth two hundredths of the product.
MUCH_GAS_COSTS, USED_UP_COSTS, ACID_COSTS_ALL, LEAST_ACID_SAID = 0.3, 0.2, 0.02, 0.002
WARM_C, WET_FROM_ML = 30.0, 1.0
TOO_WARM_C, WARM_COSTS = 36.0, 0.3
# Less than 1 mL of any solvent.
LEAST_SOLVENT_MMOL = 10.0


def _upper(values: np.ndarray) -> float:
    return percentile(values, 95.0)


def _gas_of_all(case: Case, shakes: Sequence[ShakeFacts]) -> float:
    """Gas of some shakes together, its cautious end [mL]."""
    gas = sum((case.gas_mL(s.gas_mmol) for s in shakes), np.zeros(case.inventory.count))
    return _upper(gas)


def _gauge_kPa(shakes: tuple[ShakeFacts, ...]) -> float:
    return max(_upper(s.stoppered_Pa) for s in shakes) / 1e3 - ATMOSPHERE_PA / 1e3


@rule(
    "carbonate-stoppered",
    check="layers_safety",
    title="A carbonate wash is stoppered while it fizzes",
    source="Henry's law for CO2 (0.034 mol/(L atm)) and the headspace of the funnel; Nichols, "
    "Organic Chemistry Lab Techniques, 4.7",
    stage=2,
)
def carbonate_stoppered(case: Case) -> Iterator[Breach]:
    """Acid and carbonate give carbon dioxide. In a stoppered funnel it has nowhere to go: the
    pressure rises until the stopper flies out, with product behind it. Swirl the open funnel
    until the fizzing stops, then stopper it, invert it and vent it at once. The computed volumes
    and pressures are estimates, not safety limits.
    """
    for _, step, shakes in case.partings():
        # A solid carbonate under a solvent without a water layer gives no gas to speak of.
        wet = tuple(s for s in shakes if _upper(s.aqueous_mL) >= WET_FROM_ML)
        most = max((_upper(case.gas_mL(s.gas_mmol)) for s in wet), default=0.0)
        if most < LITTLE_GAS_ML or step.swirl_open:
            continue
        gauge, gas = _gauge_kPa(shakes), _gas_of_all(case, shakes)
        yield Breach(
            step.id,
            Remark(
                Strength.SAFETY_HOLD,
                f"Up to {rounded(gas, 'mL', 2)} of carbon dioxide comes off here. With the stopper "
                f"in, the pressure could reach {rounded(gauge, 'kPa', 2)} above the air's and "
                "throw it out.",
                "Swirl the funnel open until the fizzing stops, then stopper, invert and vent.",
                (Number("gas, dry", gas, "mL"), Number("pressure above the air's", gauge, "kPa")),
                score_loss=0.4,
            ),
            case.plan.replacing(replace(step, swirl_open=True)),
        )


@rule(
    "not-vented",
    check="layers_safety",
    title="The funnel is not vented",
    source="vapour pressure of the solvent (Antoine); Cornell EHS laboratory safety manual, 16.11",
    stage=2,
)
def not_vented(case: Case) -> Iterator[Breach]:
    """A volatile solvent fills the air in the funnel with its vapour within seconds, and the
    pressure rises by the solvent's vapour pressure. Invert the funnel, open the tap towards the
    back of the hood at once, and again after every few shakes.
    """
    shut = [(step, gauge) for _, step, shakes in case.partings()
            if shakes and not step.vent and (gauge := _gauge_kPa(shakes)) >= VAPOUR_GAUGE_KPA]
    # One habit, mended everywhere at once: however many steps the shakes are written as.
    ids = {step.id for step, _ in shut}
    vented = Plan(tuple(replace(s, vent=True) if isinstance(s, Parting) and s.id in ids else s
                        for s in case.plan.steps))
    for step, gauge in shut:
        yield Breach(
            step.id,
            Remark(
                Strength.SAFETY_HOLD,
                f"The funnel is shaken without venting; the pressure inside could reach "
                f"{rounded(gauge, 'kPa', 2)} above the air's.",
                "Invert and vent at once, then every few shakes, towards the back of the hood.",
                (Number("pressure above the air's", gauge, "kPa"),),
                score_loss=0.3,
            ),
            vented,
        )


@rule(
    "warm-into-funnel",
    check="layers_safety",
    title="A warm mixture goes into the funnel",
    source="Cornell EHS laboratory safety manual, 16.11: below the solvent's boiling point and "
    "cooled first",
    stage=2,
)
def warm_into_funnel(case: Case) -> Iterator[Breach]:
    """A warm mixture makes the solvent boil in the closed funnel. Cool it to room temperature,
    better in ice, before any solvent is added or anything is stoppered.
    """
    for i, step, shakes in case.partings():
        warm = max((s.celsius for s in shakes), default=20.0)
        if warm <= WARM_C:
            continue
        cooled = case.plan.inserting(
            i, Cool(id=case.plan.free_id(f"cool-before-{step.id}"), flask=step.flask)
        )
        yield Breach(
            step.id,
            Remark(
                Strength.SAFETY_HOLD,
                f"What goes into the funnel is still at {warm:.0f} °C; the solvent boils under "
                "the stopper.",
                "Cool the flask to room temperature first.",
                (Number("temperature", warm, "°C"),),
                score_loss=WARM_COSTS * ramp(warm, WARM_C, TOO_WARM_C),
            ),
            cooled,
        )
        return


@rule(
    "carbonate-before-water",
    check="order",
    title="Carbonate before water",
    source="charge balance and Henry's law as computed; limit 0.5 L (trade practice)",
    stage=2,
)
def carbonate_before_water(case: Case) -> Iterator[Breach]:
    """Most of a mineral or short carboxylic acid leaves the organic layer with plain water. A
    carbonate wash that meets all of it makes litres of gas, or is used up and leaves acid
    behind. Wash with water first; then the carbonate has only the rest to do. Whether somebody has
    to look is judged at the cautious end of the gas of one portion, as each is vented for itself;
    points are taken by the middle of it, none at the limit and all at twice that, or by the acid
    that a used-up wash leaves behind.
    """
    limit = float(case.exercise.choice("co2_limit_mL"))
    for group in _carbonate_washes(case):
        i, step = group[0]
        ids = [s.id for _, s in group]
        gas, most, pH = _gas_and_pH(case, ids)
        portion, portion_most = _largest_portion(case, ids)
        acidic = pH < USED_UP_PH
        if portion_most < limit and not (acidic and gas > LITTLE_GAS_ML):
            continue
        fresh = _after_water(case, i, step, 1)
        if fresh is None:
            continue
        less, least, pH_after = _gas_and_pH(fresh, ids)
        helps = (less <= WATER_HELPS * gas and least < SAID_LESS * most) or (
            acidic and (pH_after >= USED_UP_PH or _acid_g(fresh) <= WATER_HELPS * _acid_g(case))
        )
        if not helps:
            continue
        for portions in range(2, MOST_WATER + 1):
            more = _after_water(case, i, step, portions)
            if _largest_portion(fresh, ids)[1] < limit or more is None:
                break
            fresh = more
        yield Breach(step.id, partial(
            _before_water, _Gas(portion, portion_most, most, least, limit), acidic), fresh.plan)
        return


def _after_water(case: Case, index: int, step: Wash, portions: int) -> Case | None:
    """The plan with some portions of water before a carbonate wash."""
    water = replace(
        step,
        id=case.plan.free_id(f"water-before-{step.id}"),
        material="water",
        portions=portions,
        volume_mL=max(step.volume_mL, 25.0),
        keep_in=step.flask,
        swirl_open=False,
    )
    return case.tried(case.plan.inserting(index, water))


def _carbonate_washes(case: Case) -> list[list[tuple[int, Wash]]]:
    """Carbonate washes of one layer, those that follow each other together."""
    groups: list[list[tuple[int, Wash]]] = []
    for i, step, _ in case.of(Wash):
        if not case.is_carbonate(step.material):
            continue
        if groups and groups[-1][-1][1].keep_in == step.flask:
            groups[-1].append((i, step))
        else:
            groups.append([(i, step)])
    return groups


def _gas_and_pH(case: Case, steps: list[str]) -> tuple[float, float, float]:
    """Gas of some washes together [mL], in the middle and at the cautious end, and the pH of the
    last one."""
    shakes = [s for step in steps for s in case.run.outcome(step).facts.shakes]
    gas = sum((case.gas_mL(s.gas_mmol) for s in shakes), np.zeros(case.inventory.count))
    return float(gas[0]), _upper(gas), float(shakes[-1].pH[0]) if shakes else 7.0


def _largest_portion(case: Case, steps: list[str]) -> tuple[float, float]:
    """Gas of the portion of some washes that gives most [mL], in the middle and at the cautious
    end."""
    gas = [case.gas_mL(s.gas_mmol) for step in steps for s in case.run.outcome(step).facts.shakes]
    return (max((float(g[0]) for g in gas), default=0.0), max(map(_upper, gas), default=0.0))


def _acid_g(case: Case) -> float:
    return sum(float(m.acid_g[0]) for m in case.measures())


@dataclass(frozen=True)
class _Gas:
    """Gas of the carbonate washes of one layer [mL]: of the portion that gives most in the middle
    and at the cautious end; of all at that end, there after a water wash; and the limit of the
    exercise for a portion."""

    portion: float
    portion_most: float
    most: float
    most_after_water: float
    limit: float

    @property
    def is_much(self) -> bool:
        """Whether it may be more than the exercise allows."""
        return self.portion_most >= self.limit

    @property
    def asked(self) -> float:
        """The share of the check that it costs: none at the limit, all of it at twice that."""
        return MUCH_GAS_COSTS * min(1.0, max(0.0, self.portion / self.limit - 1.0))

    def said(self) -> str:
        """The volumes in words, and what water would have taken where that is most of it."""
        portion = rounded(self.portion_most, "mL", 2)
        limit = (f", up to {portion} with one portion, where {self.limit:.0f} mL are allowed"
                 if self.is_much else "")
        bulk = (" Water alone takes most of the acid that the carbonate meets."
                if self.most_after_water <= BULK_LEFT * self.most else "")
        here, after = (rounded(mL, "mL", 2) for mL in (self.most, self.most_after_water))
        return (f"Counted cautiously, up to {here} of carbon dioxide comes off in this wash"
                f"{limit}; after a water wash up to {after}.{bulk}")


def _before_water(gas: _Gas, acidic: bool, cost: Cost | None) -> Remark:
    left = cost.acid.nominal if cost else 0.0
    tail = ""
    if acidic:
        tail = " The wash is used up and stays acidic"
        tail += (f", and acid worth {percent(left)} of the product stays in it."
                 if left > LEAST_ACID_SAID else ".")
    used_up = USED_UP_COSTS * min(1.0, left / ACID_COSTS_ALL) if acidic else 0.0
    return Remark(
        Strength.SAFETY_HOLD if gas.is_much else Strength.ADVICE,
        gas.said() + tail,
        "Wash with water first; then the carbonate has only the rest to do.",
        (Number("gas, dry", gas.most, "mL"),
         Number("gas after a water wash", gas.most_after_water, "mL")),
        score_loss=max(gas.asked, used_up),
    )


@rule(
    "acid-on-carbonate",
    check="layers_safety",
    title="Acid on a layer that still holds carbonate",
    source="gas as computed; trade practice: water between carbonate and acid, or swirl open",
    stage=3,
)
def acid_on_carbonate(case: Case) -> Iterator[Breach]:
    """A layer that was shaken with carbonate, or a flask that carbonate was poured into, still
    carries some of it. Acid on top, with the stopper in, sets gas free where nobody expects it.
    Draw the water off and wash with water in between, or swirl open. Acid and carbonate washes one
    after the other do no harm where, as computed, no gas comes off.
    """
    for _, step, shakes in case.partings():
        if step.swirl_open or not any(case.is_acid(m) for m in step.materials()):
            continue
        most = max((_upper(case.gas_mL(s.gas_mmol)) for s in shakes), default=0.0)
        if LEAST_GAS_ML < most < LITTLE_GAS_ML:
            gas = _gas_of_all(case, shakes)
            yield Breach(
                step.id,
                Remark(
                    Strength.ADVICE,
                    f"Acid meets carbonate: up to {rounded(gas, 'mL', 2)} of gas comes off in a "
                    "stoppered funnel.",
                    "Wash with water in between, or swirl open first.",
                    (Number("gas, dry", gas, "mL"),),
                    score_loss=0.05,
                ),
                case.plan.replacing(replace(step, swirl_open=True)),
            )


@rule(
    "solvent-into-hot-flask",
    check="layers_safety",
    title="A solvent is poured into a flask above its boiling point",
    source="vapour pressure of the solvent at the temperature of the mixture (Antoine)",
    stage=2,
)
def solvent_into_hot_flask(case: Case) -> Iterator[Breach]:
    """A volatile solvent poured into a hot mixture, or a hot mixture poured into the solvent, boils
    at once and comes out of the flask as vapour, towards the next flame. Cool first.
    """
    for i, step, _ in case.steps():
        if step.layers():
            continue  # what is shaken warm is told by warm-into-funnel
        for met in meetings(case, i):
            hot = max(met.parts, key=lambda part: part.celsius)
            solvent = _boils(met, hot)
            if solvent:
                yield _boiling(case, i, hot, solvent, met.celsius)
                return


def _boils(met: Meeting, hot: Part) -> str:
    """A solvent of a colder part that boils in the mixture; empty if none does."""
    inv = met.case.inventory
    if hot.celsius <= WARM_C:
        return ""
    pressures = inv.saturation_Pa(met.celsius)
    cold = [part for part in met.parts if part.celsius < met.celsius]
    boiling = (
        s for s in inv.solvents if pressures[inv.index[s]] >= ATMOSPHERE_PA
        and any(part.mmol(s) > LEAST_SOLVENT_MMOL for part in cold))
    return next(boiling, "")


def _boiling(case: Case, index: int, hot: Part, solvent: str, celsius: float) -> Breach:
    step, inv = case.plan.steps[index], case.inventory
    pressure = float(inv.saturation_Pa(celsius)[inv.index[solvent]])
    cool = Cool(id=case.plan.free_id(f"cool-before-{step.id}"), flask=hot.flask)
    return Breach(
        step.id,
        Remark(
            Strength.SAFETY_HOLD,
            f"'{hot.flask}' is at {hot.celsius:.0f} °C; {inv.names[solvent]} boils as they meet.",
            "Cool the flask to room temperature first.",
            (
                Number("temperature", hot.celsius, "°C"),
                Number("vapour pressure", pressure / 1e3, "kPa"),
            ),
            score_loss=0.3,
        ),
        case.plan.inserting(index, cool),
    )
