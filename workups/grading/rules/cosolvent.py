"""Rules about solvents that mix with water: before the first partition, and in the product."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.limits import LEAST_COSOLVENT
from workups.chemistry.measures import TargetMeasure, contents_weighed
from workups.chemistry.plan import Add, Parting, Plan, Strip, Wash
from workups.words.numbers import percent

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Cost, Remark, band, cost_of, rule
from .contents import cosolvent_mL, cosolvent_name

Array = NDArray[np.float64]

LEAST_PUT_ASIDE = 0.05
# The co-solvency line is a rule of thumb, and published workups with THF or a diether left in
# do well: only a large and sure loss is held against a plan.
SURE_LOSS, LARGE_LOSS = 0.05, 0.15
WATER_PER_COSOLVENT = 4.0
LEFT, SURELY_LEFT = 0.02, 0.05
WASH_ML = 20.0


@rule(
    "cosolvent-in-partition",
    check="extraction",
    title="A solvent that mixes with water spoils the partition",
    source="log-linear co-solvency, K falls by 10 to the power sigma f; trade practice: evaporate "
    "it, or dilute with four volumes of water",
    stage=2,
)
def cosolvent_in_partition(case: Case) -> Iterator[Breach]:
    """Tetrahydrofuran, alcohols, acetone and acetonitrile dissolve in water and in the extraction
    solvent. In bulk they hold the product in the water layer, or there is only one layer. Take
    them off first, or dilute with at least four volumes of water and enough extraction solvent;
    salt helps. A little of them, up to a tenth of the water, does no harm.
    """
    if not case.inventory.cosolvent_rows.size:
        return
    for i, step, shakes in case.partings():
        if not shakes or not case.holds_product(case.before(i), step.flask):
            continue
        yield from _held_back(case, i, step)
        return


def _held_back(case: Case, index: int, step: Parting) -> Iterator[Breach]:
    there = case.before(index).flasks[step.flask]
    total = there.total()
    mixes = float(cosolvent_mL(case, total)[0])
    inv = case.inventory
    water = float(total[inv.water, 0] * inv.molar_volume[inv.water])
    fraction = mixes / (mixes + water) if mixes > 0 else 0.0
    target = case.main_target(case.before(index), step.flask)
    one_layer = bool(case.run.outcomes[index].facts.shakes[0].two_layers[0] == 0)
    aside = case.share_in(case.after(index), step.other_in, target)
    if fraction < LEAST_COSOLVENT or not (one_layer or aside > LEAST_PUT_ASIDE):
        return
    mended = _better_of(
        case, evaporated(case, index, step), diluted(case, index, step, mixes, water)
    )
    if mended is None:
        return
    yield Breach(
        step.id,
        partial(_held_back_remark, cosolvent_name(case, total), fraction, one_layer),
        mended,
    )


def _better_of(case: Case, *plans: Plan) -> Plan | None:
    """The plan that saves most of the product, if it surely saves enough to speak of."""
    best, most = None, 0.0
    for plan in plans:
        other = case.tried(plan)
        cost = cost_of(case, other) if other is not None else None
        if cost is not None and cost.is_loss and cost.lost.nominal > most:
            best, most = plan, cost.lost.nominal
    return best


def evaporated(case: Case, index: int, step: Parting) -> Plan:
    """The plan with the solvent taken off before anything is poured to it."""
    added = (s for s in case.plan.of(Add, index) if s.flask == step.flask)
    at = next((case.plan.index(s.id) for s in added), index)
    off = Strip(
        id=case.plan.free_id("evaporate-added"),
        flask=step.flask,
        bath_C=40.0,
        pressure_mbar=100.0,
        hold_min=5.0,
    )
    return case.plan.inserting(at, off)


def diluted(
    case: Case, index: int, step: Parting | Strip, mixes_mL: float, water_mL: float
) -> Plan:
    """The plan with water to four volumes of that solvent before the first partition."""
    more = max(10.0, round(WATER_PER_COSOLVENT * mixes_mL - water_mL, -1))
    water = Add(
        id=case.plan.free_id("dilute-added"),
        flask=step.flask,
        material="water",
        volume_mL=min(more, 2000.0),
    )
    return case.plan.inserting(index, water)


def _held_back_remark(name: str, fraction: float, one_layer: bool, cost: Cost | None) -> Remark:
    seen = "there may be only one layer" if one_layer else "the product is held in the water layer"
    loses = cost is not None and cost.lost.low >= SURE_LOSS and cost.lost.nominal >= LARGE_LOSS
    return Remark(
        Strength.PRODUCT_LOSS if loses else Strength.ADVICE,
        f"{percent(fraction)} of what should be the water layer is {name}: {seen}.",
        "Take the solvent off first, or dilute with at least four volumes of water, and extract "
        "then.",
        (Number(f"{name} in the water layer", fraction * 100, "%"),),
    )


@rule(
    "cosolvent-left-in-product",
    check="order",
    title="A clinging solvent stays in the product",
    source="distribution of the solvent between the layers as computed; trade practice: three to "
    "five small water washes, or dilute lithium chloride",
    stage=3,
)
def cosolvent_left_in_product(case: Case) -> Iterator[Breach]:
    """Dimethylformamide and dimethyl sulfoxide boil far above the extraction solvent and do not
    come off with it; what is weighed is too heavy and will not reach constant mass. They prefer
    water: several small washes take them out, each the same share of what is left. Ethanol and
    its like come off with the solvent and are counted with it.
    """
    for found in case.measures():
        contents = contents_weighed(case.run, found.target)
        share = band(clinging_g(case, found) / np.maximum(found.available_g, 1e-9))
        if share.nominal < LEFT:
            continue
        name = cosolvent_name(case, contents)
        yield Breach(
            _last_washed(case, found.target),
            Remark(
                Strength.ADVICE,
                f"{name[0].upper() + name[1:]} worth {percent(share.nominal)} of the product is "
                "still in it.",
                "Wash with several small portions of water before the brine, or with 5 % lithium "
                "chloride.",
                (Number(name, share.nominal * 100, "%", share.low * 100, share.high * 100),),
                score_loss=min(0.3, share.nominal) if share.low >= SURELY_LEFT else 0.0,
            ),
            _washed_more(case),
        )
        return


def clinging_g(case: Case, found: TargetMeasure) -> Array:
    """What is left of solvents that mix with water and boil too high to come off [g], (N,).

    0 where the solvent is never taken off, or it is too little to speak of.
    """
    enough = float(found.clinging_g[0]) >= LEFT * max(float(found.product_g[0]), 1e-9)
    return found.clinging_g if enough and case.plan.of(Strip) else np.zeros_like(found.clinging_g)


def _last_washed(case: Case, target: str) -> str:
    washes = case.product_washes()
    return washes[-1][1].id if washes else case.ends_with(target)


def _washed_more(case: Case) -> Plan | None:
    """The plan with three more portions of water, before the brine if there is one; without a wash,
    after the layer with the product is parted."""
    washes = case.product_washes()
    plain = [s for _, s in washes if s.material == "water"]
    if plain:
        return case.plan.replacing(replace(plain[-1], portions=min(plain[-1].portions + 3, 12)))
    parted = [(i + 1, s, s.keep_in) for i, s, _ in case.partings()
              if case.holds_product(case.after(i), s.keep_in)]
    spots = [(i, s, s.flask) for i, s in washes] or parted[-1:]
    if not spots or "water" not in case.exercise.setup.materials:
        return None
    at, like, flask = spots[0]
    water = Wash(
        id=case.plan.free_id("water-added"),
        flask=flask,
        material="water",
        volume_mL=like.volume_mL if isinstance(like, Wash) else WASH_ML,
        portions=3,
        keep=like.keep,
        keep_in=flask,
        other_in="water washings",
    )
    return case.plan.inserting(at, water)
