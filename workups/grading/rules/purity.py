"""Rules about what is weighed with the product and a simple wash would have taken out."""

from __future__ import annotations

from collections.abc import Iterator

from workups.chemistry.kinds import is_phenol
from workups.chemistry.measures import contents_weighed
from workups.chemistry.plan import Plan, Wash
from workups.words.numbers import percent

from ..assessment import Band, Number, Strength
from ..case import Case
from ..rule import Breach, Remark, Words, band, rule
from .contents import on_bench, wash_chains

say = Words("purity")
LEAST_LEFT, SURELY_LEFT, BESIDE_MODEL, SURELY_BESIDE = 0.03, 0.03, 1.5, 3.0
HALVES, COSTS_LITTLE = 0.5, 0.02
AMINE_PKA = 3.0


@rule("impurity-left", check="order", stage=2)
def impurity_left(case: Case) -> Iterator[Breach]:
    """Held against the exercise's own route, and said only if a bottle of the bench helps."""
    yield from _neutral_left(case)
    for target in case.targets:
        for key in _removable(case, target):
            share = _in_product(case, target, key)
            if share.nominal < LEAST_LEFT or share.low < SURELY_LEFT:
                continue
            model = case.tried(case.exercise.model_plan)
            usual = 0.0 if model is None else _in_product(model, target, key).nominal
            mended = _washed_with(case, target, key)
            if share.nominal <= BESIDE_MODEL * usual or not _helps(case, mended, target, key):
                continue
            name = case.inventory.names[key]
            at = next((c[-1][1].id for c in wash_chains(case)), case.ends_with(target))
            wash = "base" if _is_base(case, key) else "acid"
            yield Breach(at, _weighed_with(name, share, wash), mended)
            return


def _neutral_left(case: Case) -> Iterator[Breach]:
    """Neutral starting material in an acid or a base, where the exercise's own route has none."""
    for target in case.targets:
        if not case.inventory.tables.substances[target].classes & {"amine", "carboxylic_acid"}:
            continue
        for key in _neutral(case):
            share = _in_product(case, target, key)
            if share.nominal < LEAST_LEFT or share.low < SURELY_LEFT:
                continue
            model = case.tried(case.exercise.model_plan)
            if model is None or share.nominal <= SURELY_BESIDE * _in_product(
                model, target, key).nominal:
                continue
            name = case.inventory.names[key]
            yield Breach(case.ends_with(target), _weighed_with(name, share, "neutral"))
            return


def _neutral(case: Case) -> list[str]:
    """What the reaction began with that is neither acid nor base, salt, solvent nor target."""
    inv = case.inventory
    tables = inv.tables.substances
    began = {r.substance for r in case.exercise.setup.reaction.reagents}
    return [
        key
        for key in inv.keys
        if key in began
        and key in tables
        and key not in case.targets
        and key not in inv.solvents
        and not tables[key].pKa
        and not tables[key].classes & {"solvent", "cosolvent", "inorganic"}
    ]


def _weighed_with(name: str, share: Band, wash: str) -> Remark:
    return Remark(
        Strength.ADVICE,
        *say("impurity-left", wash, name=name[0].upper() + name[1:], share=percent(share.nominal)),
        (Number(name, share.nominal * 100, "%", share.low * 100, share.high * 100),),
        score_loss=min(0.3, share.nominal),
    )


def _is_base(case: Case, key: str) -> bool:
    return case.inventory.tables.substances[key].charge_top > 0


def _removable(case: Case, target: str) -> list[str]:
    """Phenols and amines of the exercise that are no targets, if the target is neither."""
    tables = case.inventory.tables.substances
    if {"phenol", "amine", "carboxylic_acid"} & tables[target].classes:
        return []
    found = []
    for key in case.inventory.keys:
        substance = tables.get(key)
        if substance is None or key in case.targets or not substance.pKa:
            continue
        pKa = substance.pKa[0].value
        phenol = "phenol" in substance.classes and is_phenol(substance)
        if phenol or ("amine" in substance.classes and pKa > AMINE_PKA):
            found.append(key)
    return found


def _in_product(case: Case, target: str, key: str) -> Band:
    """A substance in a target's flask, as share of the mass of target that there can be."""
    inv = case.inventory
    found = next(m for m in case.measures() if m.target == target)
    row = inv.index[key]
    grams = contents_weighed(case.run, target)[row] * inv.molar_mass[row] * 1e-3
    return band(grams / found.available_g.clip(1e-9))


def _washed_with(case: Case, target: str, key: str) -> Plan | None:
    """The plan with two portions of dilute base or acid before the brine, or last."""
    fits = case.is_acid if _is_base(case, key) else case.is_strong_base
    bottles = sorted(on_bench(case, fits), key=lambda m: case.bottle(m).strength)
    chains = [
        c for c in wash_chains(case) if case.share_in(case.before(c[0][0]), c[0][1].flask, target)
    ]
    if not bottles or not chains:
        return None
    at, last = next(((i, s) for i, s in chains[0] if case.is_brine(s.material)), chains[0][-1])
    brine = case.is_brine(last.material)
    flask = last.flask if brine else last.keep_in
    wash = Wash(
        id=case.plan.free_id("wash-added"),
        flask=flask,
        material=bottles[0],
        volume_mL=max(last.volume_mL, 15.0),
        portions=2,
        keep=last.keep,
        keep_in=flask,
        other_in="added washings",
        swirl_open=True,
    )
    return case.plan.inserting(at if brine else at + 1, wash)


def _helps(case: Case, mended: Plan | None, target: str, key: str) -> bool:
    """Whether the wash takes at least half of it and hardly any product."""
    other = case.tried(mended)
    if other is None:
        return False
    lost = [
        float(a.share[0] - b.share[0])
        for a, b in zip(case.measures(), other.measures(), strict=True)
    ]
    less = _in_product(other, target, key).nominal
    return max(lost) < COSTS_LITTLE and less < HALVES * _in_product(case, target, key).nominal
