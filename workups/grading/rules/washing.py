"""Rules about what a wash takes out, leaves in or destroys."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from workups.chemistry.facts import Facts, ShakeFacts
from workups.chemistry.measures import measure
from workups.chemistry.plan import Add, Adjust, Parting, Plan, Quench, Stand, Wash
from workups.chemistry.setup import AssumedReaction
from workups.chemistry.state import Flask, State
from workups.words.numbers import percent, rounded

from ..assessment import Band, Number, Strength
from ..case import Case
from ..modelrun import model_run
from ..rule import Breach, Cost, Remark, Words, band, is_sure, ramp, rule
from .contents import on_bench
from .quench import mild_quench
from .rewriting import without_wash

say = Words("washing")
WASHED_OUT = 0.03
ACID_LIMIT = 0.01
# The share of the check that acid takes at most, and how far beyond the limit (judgement).
MOST_FOR_ACID, MUCH_ACID = 0.6, 0.1
STRONG_BASE_PH = 11.0
EFFECT = 0.01
WRONG_BASE = 0.05
# Outside these a drop of water in the layer is worth washing out (common practice, no source).
ACID_DROPS_PH, BASE_DROPS_PH = 3.0, 11.0


def _share_aside(case: Case, index: int, step: Parting, target: str) -> float:
    """Share of a target in the water layers that a wash puts aside."""
    row = case.inventory.index[target]
    total = case.available(target)
    before, after = case.before(index), case.after(index)

    def aqueous(state: State, name: str) -> float:
        flask = state.flasks.get(name)
        return float(flask.aqueous[row, 0]) if flask is not None else 0.0

    aside = aqueous(after, step.other_in) - (
        aqueous(before, step.other_in) if step.other_in != step.flask else 0.0
    )
    if step.other_in == "waste":
        aside = case.amount_in(after, "waste", target) - case.amount_in(before, "waste", target)
    return aside / total


@rule("product-washed-out", check="order", stage=1)
def product_washed_out(case: Case) -> Iterator[Breach]:
    """A loss only above ``wash_loss_limit_percent``; washings that are used later are fine."""
    for i, step, facts in case.of(Wash):
        shakes = facts.shakes
        if not case.is_aqueous(step.material) or not shakes:
            continue
        aside = max(_share_aside(case, i, step, t) for t in case.targets)
        if aside < WASHED_OUT or case.used_later(i, step.other_in):
            continue
        pH = float(shakes[-1].pH[0])
        organic = _puts_organic_aside(step, shakes[0])
        yield _washed_out(case, step, aside, "organic layer" if organic else (
            f"water layer (pH {pH:.1f})"), pH)


def _puts_organic_aside(step: Wash, shake: ShakeFacts) -> bool:
    """Whether the layer that is not kept is the organic one."""
    return bool(shake.two_layers[0]) and (step.keep == "upper") != bool(shake.organic_on_top[0])


def _washed_out(case: Case, step: Wash, aside: float, layer: str, pH: float) -> Breach:
    mended = without_wash(case.plan, step)
    limit = float(case.exercise.choice("wash_loss_limit_percent")) / 100.0

    def remark(cost: Cost | None) -> Remark:
        lost = cost is not None and is_sure(cost.lost, limit)
        return Remark(
            Strength.PRODUCT_LOSS if lost else Strength.ADVICE,
            *say("product-washed-out", share=percent(aside), layer=layer),
            (Number("product in the washings", aside * 100, "%"), Number("pH", pH, "")),
        )

    return Breach(step.id, remark, mended)


@rule("strong-base-on-ester", check="order", stage=2)
def strong_base_on_ester(case: Case) -> Iterator[Breach]:
    """By the simulated hydrolysis in the shake; with an assumed rate never charged."""
    sensitive = {r.substrate for r in case.exercise.setup.reactions if r.kind == "base"}
    for i, step, facts in case.of(Wash):
        if not case.is_strong_base(step.material):
            continue
        shakes = facts.shakes
        for target in set(case.targets) & sensitive:
            turned = sum(s.reacted.get(target, np.zeros(case.inventory.count)) for s in shakes)
            share = band(np.asarray(turned) / max(case.available(target), 1e-12))
            pH = max(float(s.pH[0]) for s in shakes)
            assumed = _assumed(case, target, "base")
            if pH < STRONG_BASE_PH or not case.holds_product(case.before(i), step.flask) or (
                    assumed and share.high < EFFECT):
                continue
            yield _strong_base(case, step, share, pH, assumed)


def _assumed(case: Case, target: str, kind: str) -> str:
    """The class a target's rate is assumed for; empty where the exercise states one."""
    return next((r.of_class for r in case.exercise.setup.reactions
                 if isinstance(r, AssumedReaction) and (r.substrate, r.kind) == (target, kind)), "")


def _uncertain(share: Band, assumed: str) -> str:
    """What is said of a number that rests on a rate for a whole class."""
    return (f"uncertain: between {rounded(share.low * 100, '%', 2)} and "
            f"{rounded(share.high * 100, '%', 2)}, by a rate assumed for every {assumed}")


def _strong_base(case: Case, step: Wash, share: Band, pH: float, assumed: str) -> Breach:
    nominal, low, high = share.nominal, share.low, share.high
    weak = next(iter(on_bench(case, case.is_carbonate)), None)
    mended = (
        case.plan.replacing(replace(step, material=weak, swirl_open=True))
        if weak
        else (case.plan.without(step.id))
    )

    much = f"{rounded(nominal * 100, '%', 2)} of the product in the short time of shaking (up to " \
           f"{rounded(high * 100, '%', 2)})"
    if assumed:
        much = f"product in the short time of shaking ({_uncertain(share, assumed)})"

    def remark(_cost: Cost | None) -> Remark:
        return Remark(
            Strength.PRODUCT_LOSS if is_sure(share) else Strength.ADVICE,
            *say("strong-base-on-ester", pH=pH, much=much),
            (
                Number("product hydrolysed", nominal * 100, "%", low * 100, high * 100),
                Number("pH", pH, ""),
            ),
            score_loss=WRONG_BASE if high >= EFFECT and not assumed else 0.0,
        )

    return Breach(step.id, remark, mended)


@rule("acid-on-sensitive-product", check="order", stage=2)
def acid_on_sensitive_product(case: Case) -> Iterator[Breach]:
    """By what the slow reactions took, shaken, stirred or standing."""
    sensitive = {r.substrate for r in case.exercise.setup.reactions if r.kind == "acid"}
    for i, step, facts in case.steps():
        if not isinstance(step, Parting | Quench | Add | Adjust | Stand):
            continue
        for target in sorted(set(case.targets) & sensitive):
            share = band(_turned_over(case, facts, target) / max(case.available(target), 1e-12))
            if share.nominal < EFFECT or not case.holds_product(case.before(i), step.flask):
                continue
            pH = _lowest_pH(case.after(i), step, facts)
            while_it = _DOING.get(step.verb, "in the short time of shaking, more if it stands")
            assumed = _assumed(case, target, "acid")
            much = f"part of the product ({_uncertain(share, assumed)})" if assumed else (
                f"{percent(share.nominal)} of the product")
            yield Breach(
                step.id, partial(_destroyed, share, pH, f"{much} {while_it}"), _mild(case, step))


_DOING = {"stand": "while it stands, more if it stands longer",
          "quench": "while it is stirred, more if it stands",
          "add": "while it is stirred, more if it stands",
          "adjust": "while the acid goes in, more if it stands"}


def _turned_over(case: Case, facts: Facts, target: str) -> np.ndarray:
    """What a step's slow reactions took of a target [mmol], shaken, stirred or standing, (N,)."""
    nothing = np.zeros(case.inventory.count)
    shaken = sum((s.reacted.get(target, nothing) for s in facts.shakes), nothing)
    return np.asarray(shaken + facts.reacted.get(target, nothing))


def _lowest_pH(after: State, step: Parting | Quench | Add | Adjust | Stand, facts: Facts) -> float:
    if facts.shakes:
        return min(float(s.pH[0]) for s in facts.shakes)
    pH = after.flasks[step.flask].pH
    return 7.0 if pH is None else float(pH[0])


def _mild(case: Case, step: Parting | Quench | Add | Adjust | Stand) -> Plan | None:
    """The plan with the acid exchanged for ammonium chloride or water, or without the standing."""
    if isinstance(step, Stand):
        return case.plan.without(step.id)
    if not isinstance(step, Wash | Quench | Add) or not case.is_acid(step.material):
        return None
    mild = mild_quench(case)
    better = mild if mild is not None and not case.is_acid(mild) else "water"
    return case.plan.replacing(replace(step, material=better))


def _destroyed(share: Band, pH: float, what: str, _cost: Cost | None) -> Remark:
    return Remark(
        Strength.PRODUCT_LOSS if is_sure(share) else Strength.ADVICE,
        *say("acid-on-sensitive-product", pH=pH, what=what),
        (
            Number(
                "product destroyed", share.nominal * 100, "%", share.low * 100, share.high * 100
            ),
            Number("pH", pH, ""),
        ),
    )


@rule("acid-left-in-product", check="order", stage=3)
def acid_left_in_product(case: Case) -> Iterator[Breach]:
    """By the acid that is weighed with the product; the mend is a mild base."""
    draws = case.inventory.draws
    model = model_run(case.exercise, draws.seed, draws.count)
    for found in case.measures():
        share, own = (float(m.acid_g[0] / max(m.available_g[0], 1e-9))
                      for m in (found, measure(model, found.target)))
        limit = max(ACID_LIMIT, own + ACID_LIMIT / 2)
        if share < limit:
            continue
        washes = case.product_washes()
        yield _acid_left(case, found.target, washes, share, share - limit)


def _mild_base(case: Case) -> str | None:
    """A carbonate of the exercise, else its weakest hydroxide where no product is hurt by it."""
    carbonates = on_bench(case, case.is_carbonate)
    if carbonates:
        return carbonates[0]
    tables = case.inventory.tables.substances
    hurt = {"ester", "carboxylic_acid", "phenol"}
    if any(tables[t].classes & hurt for t in case.targets):
        return None
    hydroxides = on_bench(case, case.is_strong_base)
    return min(hydroxides, key=lambda m: case.bottle(m).strength, default=None)


def _acid_left(
    case: Case, target: str, washes: list[tuple[int, Wash]], share: float, beyond: float
) -> Breach:
    weak = _mild_base(case)
    carbonate = [(i, s) for i, s in washes if case.is_carbonate(s.material)]
    step_id = (carbonate or washes)[-1][1].id if washes else case.ends_with(target)
    mended = None
    if weak and carbonate:
        _, last = carbonate[-1]
        mended = case.plan.replacing(replace(last, portions=last.portions + 2, swirl_open=True))
    elif weak and washes:
        at, last = washes[0]
        wash = Wash(
            id=case.plan.free_id("carbonate-added"),
            flask=last.keep_in,
            material=weak,
            volume_mL=25.0,
            portions=2,
            keep=last.keep,
            keep_in=last.keep_in,
            other_in="carbonate wash",
            swirl_open=True,
        )
        mended = case.plan.inserting(at + 1, wash)

    name = case.inventory.tables.material_name(weak) if weak else "a dilute base"

    def remark(_cost: Cost | None) -> Remark:
        return Remark(
            Strength.ADVICE,
            *say("acid-left-in-product", "washed" if carbonate else "", share=percent(share),
                 base=name),
            (Number("acid left", share * 100, "%"),),
            score_loss=MOST_FOR_ACID * ramp(beyond, 0.0, MUCH_ACID),
        )

    return Breach(step_id, remark, mended)


def _acts_on_pH(flask: Flask) -> bool:
    """Whether the last water layer of a flask was strongly acid or basic."""
    return flask.pH is not None and not ACID_DROPS_PH < float(flask.pH[0]) < BASE_DROPS_PH


@rule("wash-without-effect", check="order", stage=5)
def wash_without_effect(case: Case) -> Iterator[Breach]:
    """For information: what the wash takes away beside water, solvent and its own salts."""
    inv = case.inventory
    for i, step in case.product_washes():
        bottle = case.bottle(step.material)
        if bottle.is_brine or bottle.acts_otherwise:
            continue
        before = case.before(i).flasks[step.flask]
        after = case.after(i).flasks.get(step.keep_in)
        if after is None or _acts_on_pH(before) or (
            max(_share_aside(case, i, step, t) for t in case.targets) >= WASHED_OUT
        ):
            continue
        main = case.main_target(case.after(i), step.keep_in)
        skip = {inv.water, *inv.solvent_rows.tolist(), inv.index[main]}
        fed = {inv.index[k] for k in bottle.components if k in inv.index}
        removed = max(
            (
                float(before.of(r)[0] - after.of(r)[0]) * inv.molar_mass[r] * 1e-3
                for r in range(len(inv.keys))
                if r not in skip | fed
            ),
            default=0.0,
        )
        product_g = (
            float(before.of(inv.index[case.targets[0]])[0])
            * inv.molar_mass[inv.index[case.targets[0]]]
            * 1e-3
        )
        if product_g > 0 and removed < EFFECT * product_g * 0.2:
            yield Breach(
                step.id,
                Remark(
                    Strength.INFORMATION,
                    *say("wash-without-effect"),
                ),
                without_wash(case.plan, step),
            )
