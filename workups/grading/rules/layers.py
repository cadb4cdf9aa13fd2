"""Rules about which layer is which and what is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

from workups.chemistry.facts import ShakeFacts
from workups.chemistry.limits import CLOSE_DENSITIES_G_ML, FUNNEL_FULL, FUNNEL_WELL_FILLED
from workups.chemistry.plan import WASTE, Extract, Parting, Plan, Wash
from workups.words.numbers import percent

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Cost, Remark, ramp, rule
from .extraction import PlanRecovery, plan_recovery
from .parted import parted
from .setting_free import ionised_left

LEAST_SHARE = 0.2
OVERFLOWS, BY_FAR_TOO_FULL, OVERFLOW_COSTS = 1.0, 1.2, 0.2
LOSS_PER_FILLING = 0.4
HARDLY_A_LAYER, DROPS_ML, HARDLY_WATER = 0.05, 0.5, 0.01
UNSURE_FROM = 0.1
NOTHING_PARTED = 0.1
MORE_PORTIONS, MOST_PORTIONS = (2, 3, 4), 12
MORE = "Use more or larger portions."


def other_layer(layer: str) -> str:
    """The other of upper and lower."""
    return "lower" if layer == "upper" else "upper"


@rule(
    "product-layer-put-aside",
    check="order",
    title="The layer with the product is put aside",
    source="trade practice: keep every layer until the product is weighed; Nichols, Organic "
    "Chemistry Lab Techniques, 7.15",
    stage=1,
)
def product_layer_put_aside(case: Case) -> Iterator[Breach]:
    """At every separation one layer is kept and one is put aside. The product goes where it
    dissolves better, and which layer lies on top depends on the densities, not on habit. If the
    layer put aside holds most of the product and nothing is done with it later, the product is
    lost. Keep every layer until the product has been weighed: a layer in a beaker can be
    fetched back, one in the waste cannot.
    """
    for i, step, shakes in case.partings():
        if not shakes or shakes[0].two_layers[0] == 0 or case.used_later(i, step.other_in):
            continue
        if _solvent_to_solvent(case, step, shakes):
            target = case.main_target(case.before(i), step.flask)
            yield _put_aside(case, step, case.share_in(case.before(i), step.flask, target))
            continue
        for target in case.targets:
            where = parted(case, i, step, target)
            if where.other < LEAST_SHARE or not where.mostly_put_aside:
                continue
            if not _is_held_as_salt(case, i, step, target) and not _stays_in_water(step, shakes):
                yield _put_aside(case, step, where.other)
                break


def _solvent_to_solvent(case: Case, step: Parting, shakes: tuple[ShakeFacts, ...]) -> bool:
    """An extraction that keeps the water layer, so that the next portion of solvent goes to the
    solvent layer and finds no second one."""
    solvents = [key for key in step.materials() if not case.is_aqueous(key)]
    if not step.pools_kept or not solvents or len(shakes) < 2:
        return False
    organic_kept = (step.keep == "upper") == bool(shakes[0].organic_on_top[0])
    water, solvent = float(shakes[1].aqueous_mL[0]), float(shakes[1].organic_mL[0])
    return not organic_kept and water < HARDLY_A_LAYER * solvent


def _stays_in_water(step: Parting, shakes: tuple[ShakeFacts, ...]) -> bool:
    """An extraction whose solvent layer is kept: too few portions or the wrong pH, not the wrong
    layer."""
    kept_organic = (step.keep == "upper") == bool(shakes[0].organic_on_top[0])
    return step.pools_kept and kept_organic


def _is_held_as_salt(case: Case, index: int, step: Parting, target: str) -> bool:
    """The product is in the water layer because it is ionised there (another rule's matter)."""
    state = case.after(index)
    flask = state.flasks.get(step.other_in)
    if flask is None:
        return False
    row = case.inventory.index[target]
    return float(flask.aqueous[row, 0]) > 0.5 * float(flask.of(row)[0]) and isinstance(
        step, Wash
    )


def _put_aside(case: Case, step: Parting, share: float) -> Breach:
    right = other_layer(step.keep)
    place = "the waste" if step.other_in == WASTE else f"'{step.other_in}'"

    def say(_cost: Cost | None) -> Remark:
        return Remark(
            Strength.PRODUCT_LOSS,
            f"The {right} layer, which goes to {place} and is not used again, holds "
            f"{percent(share)} of the product; the layer you keep holds next to none of it.",
            f"Keep the {right} layer here, and label both before you pour. If in doubt, add a "
            "few drops of the layer to a little water: what mixes is the aqueous layer.",
            (Number("share of the product in the layer put aside", share * 100, "%"),),
        )

    return Breach(step.id, say, case.plan.replacing(replace(step, keep=right)))


@rule(
    "one-layer-only",
    check="extraction",
    title="There is no second layer",
    source="trade practice: fetch the aqueous layer and extract that",
    stage=2,
)
def one_layer_only(case: Case) -> Iterator[Breach]:
    """Extraction needs two liquids that do not mix. Fresh solvent shaken with a solvent layer, or
    water with a water layer, gives one layer: nothing is extracted or washed. The next portion of
    solvent belongs to the aqueous layer; the next wash to the organic one. With much alcohol, THF
    or acetone in the flask the model is unsure whether there are two layers, and says so.
    """
    for i, step, shakes in case.partings():
        if not shakes or not _nothing_to_part(step, shakes[0]):
            continue
        if not case.holds_product(case.before(i), step.flask):
            continue
        unsure = cosolvent_share(case, i, step) > UNSURE_FROM
        mended = case.plan.without(step.id) if step.keep_in == step.flask and not unsure else None
        yield Breach(step.id, partial(_one_layer_remark, step, unsure), mended)


def _nothing_to_part(step: Parting, shake: ShakeFacts) -> bool:
    """One layer, or solvent poured to solvent over which only drops of water float."""
    organic_mL, water_mL = float(shake.organic_mL[0]), float(shake.aqueous_mL[0])
    drops = step.pools_kept and water_mL < max(DROPS_ML, HARDLY_WATER * organic_mL)
    return shake.two_layers[0] == 0 or drops


def cosolvent_share(case: Case, index: int, step: Parting) -> float:
    """Volume share of water-miscible solvents in what is shaken, nominal."""
    inv = case.inventory
    contents = case.before(index).flasks[step.flask].total()
    rows = inv.cosolvent_rows
    mixed = float((contents[rows, 0] * inv.molar_volume[rows]).sum())
    total = float(inv.volume_mL(contents)[0])
    return mixed / total if total > 0 else 0.0


def _one_layer_remark(step: Parting, unsure: bool, cost: Cost | None) -> Remark:
    if unsure:
        return Remark(
            Strength.INFORMATION,
            f"With so much water-miscible solvent in '{step.flask}' there may be only one layer.",
            "If no line appears, add water, salt or more of the extraction solvent.",
        )
    return Remark(
        Strength.ADVICE if not cost or not cost.is_loss else Strength.PRODUCT_LOSS,
        f"What is shaken here in '{step.flask}' forms one layer, so this step separates nothing.",
        "Shake the layer that still holds product with the liquid it does not mix with.",
        score_loss=NOTHING_PARTED,
    )


@rule(
    "layers-may-invert",
    check="layers_safety",
    title="The layers may change places",
    source="densities of both layers as computed; difference under 0.03 g/mL (common practice, "
    "no source)",
    stage=4,
)
def layers_may_invert(case: Case) -> Iterator[Breach]:
    """Which layer is on top follows from the densities of both as they are, with all that is
    dissolved in them. When they differ by less than 0.03 g/mL the layers part slowly and may lie
    the other way round. Test a few drops with water before you pour, or add water (it thins the
    salt) or more solvent.
    """
    for _, step, shakes in case.partings():
        close = [
            s
            for s in shakes
            if s.two_layers[0] > 0 and abs(float(s.density_difference[0])) < CLOSE_DENSITIES_G_ML
        ]
        if close:
            gap = abs(float(close[0].density_difference[0]))
            yield Breach(
                step.id,
                Remark(
                    Strength.INFORMATION,
                    f"The two layers differ by only {gap:.3f} g/mL here: they part slowly and may "
                    "lie the other way round.",
                    "Test which layer is which before pouring.",
                    (Number("density difference", gap, "g/mL"),),
                ),
            )


@rule(
    "funnel-too-full",
    check="layers_safety",
    title="The funnel is too full",
    source="common teaching-lab rule, at most three quarters full (University of Colorado "
    "organic teaching labs procedure)",
    stage=4,
)
def funnel_too_full(case: Case) -> Iterator[Breach]:
    """A funnel that is more than three quarters full can hardly be shaken: the layers do not mix,
    liquid is pressed into the stopper, and there is little room for vapour. Two thirds is a
    better limit. Work in two batches or take a larger funnel. More than the funnel holds cannot
    be done at all.
    """
    fills = [
        (step, max((float(s.fill[0]) for s in shakes), default=0.0))
        for _, step, shakes in case.partings()
    ]
    if not fills:
        return
    step, fill = max(fills, key=lambda pair: pair[1])
    if fill <= FUNNEL_WELL_FILLED:
        return
    overflows, fault = fill > OVERFLOWS, fill > FUNNEL_FULL
    mended = _in_smaller_portions(case, step)
    instead = mended.steps[mended.index(step.id)] if mended is not None else None
    change = "Work in two batches or take a larger funnel."
    if isinstance(instead, Extract | Wash):
        change = change.rstrip(".") + (
            f", or shake with {instead.portions} portions of {instead.volume_mL:g} mL.")
    yield Breach(
        step.id,
        Remark(
            Strength.SAFETY_HOLD
            if overflows
            else Strength.ADVICE
            if fault
            else Strength.INFORMATION,
            f"The funnel is {percent(fill)} full here."
            if not overflows
            else f"This is {percent(fill)} of what the funnel holds.",
            change,
            (Number("filling of the funnel", fill * 100, "%"),),
            score_loss=max(0.0, LOSS_PER_FILLING * (min(fill, OVERFLOWS) - FUNNEL_FULL))
            + OVERFLOW_COSTS * ramp(fill, OVERFLOWS, BY_FAR_TOO_FULL),
        ),
        mended,
    )


def _in_smaller_portions(case: Case, step: Parting) -> Plan | None:
    """The plan with the same volume in smaller portions; None where that does not make room."""
    if not isinstance(step, Extract | Wash):
        return None
    for times in MORE_PORTIONS:
        if step.portions * times > MOST_PORTIONS:
            break
        smaller = replace(
            step, portions=step.portions * times, volume_mL=round(step.volume_mL / times, 1))
        plan = case.plan.replacing(smaller)
        parted = case.outcome_in(plan, step.id)
        if parted is None or max(
                float(s.fill[0]) for s in parted.facts.shakes) > FUNNEL_WELL_FILLED:
            continue
        mended = case.tried(plan)
        if mended is not None:
            return mended.plan
    return None


@rule(
    "poured-away-early",
    check="layers_safety",
    title="A layer is thrown away before weighing",
    source="Nichols, Organic Chemistry Lab Techniques, 7.15; University of York teaching labs, "
    "extraction page",
    stage=4,
)
def poured_away_early(case: Case) -> Iterator[Breach]:
    """Discarding the wrong layer is the one mistake of a workup that cannot be undone. A layer
    that stands in a labelled flask until the product is weighed costs nothing and saves the
    day. This is a habit worth having even where, as computed, the layer holds no product.
    """
    weighed = [i for i, s, _ in case.steps() if s.verb == "weigh"]
    last = weighed[-1] if weighed else len(case.plan.steps)
    early = [
        (i, s)
        for i, s, _ in case.steps()
        if i < last and (s.verb == "discard" or (isinstance(s, Parting) and s.other_in == WASTE))
    ]
    if early:
        i, step = early[0]
        gone = max(
            case.share_in(case.after(i), WASTE, t) - case.share_in(case.before(i), WASTE, t)
            for t in case.targets
        )
        yield Breach(
            step.id,
            Remark(
                Strength.INFORMATION,
                "A layer is poured away before the product is weighed; if it was the wrong one, "
                "nothing brings it back.",
                "Keep the layer in a labelled flask and discard it after the weighing.",
                (Number("product in the layer poured away", gone * 100, "%"),),
            ),
        )


@rule(
    "recovery-below-goal",
    check="extraction",
    title="Too little is extracted",
    source="n_left/n = (Vaq/(Vaq + K Vorg))^n; D. Harvey, Modern Analytical Chemistry, ch. 7",
    stage=3,
)
def recovery_below_goal(case: Case) -> Iterator[Breach]:
    """Each portion of solvent takes the same share of what is still in the water:
    left = (Vaq/(Vaq + D Vorg)) per portion. Several small portions leave less behind than one
    large one, and leaving portions out costs most where D is small. Enough is what reaches the
    exercise's recovery goal, within the uncertainty of D.
    """
    for target in case.exercise.setup.targets:
        found = plan_recovery(case, target.substance)
        if found is None or found.reached:
            continue
        first = next(iter(found.stage.extracts), None)
        last = found.stage.steps[-1]
        partings = {first.id if first else "", last.id}
        if any(b.step in partings for b in product_layer_put_aside(case)) or _is_a_salt(found):
            continue
        if first is not None:
            yield Breach(first.id, *_more_portions(case, found, first))
        elif not case.used_later(found.stage.last, last.other_in):
            yield Breach(last.id, *_portions_after(case, found, last))


def _is_a_salt(found: PlanRecovery) -> bool:
    """Whether the goal is missed by what is a salt in the water, which no portion takes out: that
    is told, and mended, by not-set-free."""
    last, case = found.stage.steps[-1], found.case
    left = ionised_left(case, found.stage.last, last, found.target, last.other_in)
    return case.exercise.fixed_portions is None and found.nominal + left >= found.goal


def _more_portions(
    case: Case, found: PlanRecovery, first: Extract
) -> tuple[Callable[[Cost | None], Remark], Plan | None]:
    """What to say, and the plan with as many portions as the goal needs."""
    better = next(
        (n for n in range(first.portions + 1, 7) if found.with_portions(n) >= found.goal), None
    )
    change = f"{better} portions of {first.volume_mL:g} mL reach it."
    mended = case.plan.replacing(replace(first, portions=better)) if better else None
    return partial(_below_goal, found, change if better else MORE), mended


def _portions_after(
    case: Case, found: PlanRecovery, last: Parting
) -> tuple[Callable[[Cost | None], Remark], Plan | None]:
    """The same where the plan pours solvent in and separates: fresh portions to what is left."""
    inv = case.inventory
    kept = case.after(found.stage.last).flasks.get(last.keep_in)
    if kept is None or last.other_in == WASTE or not inv.solvents:
        return partial(_below_goal, found, MORE), None
    solvent = max(inv.solvents, key=lambda s: float(kept.organic[inv.index[s], 0]))
    for portions in range(1, 7):
        step = Extract(
            id=case.plan.free_id(f"extract-after-{last.id}"),
            flask=last.other_in,
            material=solvent,
            volume_mL=max(5.0, round(float(inv.volume_mL(kept.organic)[0]))),
            portions=portions,
            keep=last.keep,
            keep_in=last.keep_in,
            other_in=last.other_in,
        )
        plan = case.plan.inserting(found.stage.last + 1, step)
        better = case.tried(plan)
        again = plan_recovery(better, found.target) if better else None
        if again is not None and again.nominal >= found.goal:
            more = "one more portion" if portions == 1 else f"{portions} more portions"
            change = f"Shake what is left with {more} of {step.volume_mL:g} mL."
            return partial(_below_goal, found, change), plan
    return partial(_below_goal, found, MORE), None


def _below_goal(
    found: PlanRecovery, change: str, cost: Cost | None
) -> Remark:
    share, goal = found.nominal, found.goal
    fixed = found.case.exercise.fixed_portions
    if fixed is not None:
        return Remark(
            Strength.CHOICE,
            f"The exercise asks for {fixed} portions; this plan shakes with {found.portions}. They "
            f"recover {percent(share)} of the product.",
            "Shake what is left with the portions that are missing.",
            (Number("recovered", share * 100, "%"),),
            score_loss=found.portions_missing,
        )
    return Remark(
        cost.loss_strength() if cost else Strength.ADVICE,
        f"The extraction recovers {percent(share)} of the product; {percent(1 - share)} stays in "
        f"the layer that is not kept. The goal is {percent(goal)}.",
        change,
        (Number("recovered", share * 100, "%"), Number("goal", goal * 100, "%")),
    )
