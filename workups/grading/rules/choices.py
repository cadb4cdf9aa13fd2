"""Rules that an exercise turns on: points on which instructors differ (see ``settings.py``).

None of them says anything unless the exercise asks for it; each shows the instructor's reason.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from workups.chemistry.limits import LEAST_COSOLVENT
from workups.chemistry.plan import Combine, Dry, Plan, Quench, Strip, Wash
from workups.chemistry.plan import Test as TestStep

from ..assessment import Strength
from ..case import Case
from ..rule import Breach, Remark, Words, rule
from .contents import cosolvent_mL, on_bench, strongest_acid
from .cosolvent import diluted, evaporated

say = Words("choices")
SMALL_LOSS = 0.1


def chosen(case: Case, key: str, message: str, change: str) -> Remark:
    """A remark on something the exercise asks for, with the instructor's reason."""
    reason = case.exercise.reason(key)
    tail = f" Asked for because: {reason}" if reason else ""
    return Remark(Strength.CHOICE, f"{message}{tail}", change, score_loss=SMALL_LOSS)


@rule("brine-required", check="order", stage=4)
def brine_required(case: Case) -> Iterator[Breach]:
    """Of the choices, ``brine``: a drying with no brine among the washes of a product."""
    if case.exercise.choice("brine") != "required":
        return
    washes = case.product_washes()
    dries = [s for i, s, _ in case.of(Dry) if case.dries_product(i, s)]
    if not dries or any(case.is_brine(s.material) for _, s in washes):
        return
    brine = next(iter(on_bench(case, case.is_brine)), None)
    mended = None
    if brine and washes:
        at, last = washes[-1]
        fresh = replace(
            last,
            id=case.plan.free_id("brine-added"),
            flask=last.keep_in,
            material=brine,
            portions=1,
            other_in="brine",
        )
        mended = case.plan.inserting(at + 1, fresh)
    yield Breach(
        dries[0].id,
        chosen(case, "brine", *say("brine-required")),
        mended,
    )


@rule("water-between-acid-and-carbonate", check="order", stage=4)
def water_between(case: Case) -> Iterator[Breach]:
    """Of the choices, ``water_between``, whether or not gas comes off."""
    if case.exercise.choice("water_between") != "expected":
        return
    previous: Wash | None = None
    for i, step in case.product_washes():
        kinds = {_kind(case, s.material) for s in (previous, step) if s is not None}
        if previous is not None and kinds == {"acid", "base"}:
            water = replace(
                step,
                id=case.plan.free_id("water-between"),
                material="water",
                portions=1,
                keep_in=step.flask,
                swirl_open=False,
            )
            yield Breach(
                step.id,
                chosen(case, "water_between", *say("water-between-acid-and-carbonate")),
                case.plan.inserting(i, water),
            )
            return
        previous = step


def _kind(case: Case, material: str) -> str:
    if case.is_acid(material):
        return "acid"
    return "base" if case.bottle(material).is_base else ""


@rule("last-wash", check="order", stage=4)
def last_wash(case: Case) -> Iterator[Breach]:
    """Of the choices, ``last_wash``: only where a plan has the wash that is asked for."""
    wanted = case.exercise.choice("last_wash")
    if wanted == "free":
        return
    sharp = [(s, _kind(case, s.material)) for _, s in case.product_washes()]
    sharp = [(s, k) for s, k in sharp if k]
    if not sharp or sharp[-1][1] == wanted or all(k != wanted for _, k in sharp):
        return
    yield Breach(
        sharp[-1][0].id,
        chosen(case, "last_wash", *say("last-wash", last=sharp[-1][1], wanted=wanted)),
        _swapped(case.plan, [s for s, _ in sharp]),
    )


def _swapped(plan: Plan, sharp: list[Wash]) -> Plan | None:
    """The last two of these washes with their liquids exchanged."""
    if len(sharp) < 2:
        return None
    first, second = sharp[-2], sharp[-1]

    def liquid_of(step: Wash, other: Wash) -> Wash:
        return replace(
            step,
            material=other.material,
            volume_mL=other.volume_mL,
            portions=other.portions,
            swirl_open=True,
        )

    return plan.replacing(liquid_of(first, second)).replacing(liquid_of(second, first))


@rule("extraction-not-checked", check="extraction", stage=4)
def extraction_not_checked(case: Case) -> Iterator[Breach]:
    """Of the choices, ``extraction_check``: no test of the water layer after an extraction."""
    extracts = case.extracts()
    if case.exercise.choice("extraction_check") != "TLC" or not extracts:
        return
    if any(s.how == "TLC" for s in case.plan.of(TestStep)):
        return
    at, last = extracts[-1]
    test = TestStep(id=case.plan.free_id("tlc"), flask=last.other_in, how="TLC")
    yield Breach(
        last.id,
        chosen(case, "extraction_check", *say("extraction-not-checked")),
        case.plan.inserting(at + 1, test) if last.other_in in case.after(at).flasks else None,
    )


@rule("combined-late", check="order", stage=4)
def combined_late(case: Case) -> Iterator[Breach]:
    """Of the choices, ``combine``: extracts that are washed apart."""
    if case.exercise.choice("combine") != "before washing":
        return
    washed = {
        s.keep_in for s in case.plan.of(Wash) if case.is_aqueous(s.material)
    }
    for step in case.plan.of(Combine):
        if len(washed & {*step.flasks}) > 1:
            yield Breach(
                step.id,
                chosen(case, "combine", *say("combined-late")),
                _combined_first(case.plan, step),
            )
            return


def _combined_first(plan: Plan, combine: Combine) -> Plan | None:
    """The plan with the extracts combined before the first of them is washed, and washed once.

    None where a wash passes its layer on to another flask.
    """
    washes = [s for s in plan.of(Wash, plan.index(combine.id)) if s.flask in combine.flasks]
    if not washes or any(s.keep_in != s.flask for s in washes):
        return None
    whole = washes[0].flask
    kept = [s for s in washes if s.flask == whole]
    for wash in kept:
        plan = plan.replacing(replace(wash, flask=combine.into, keep_in=combine.into))
    at = plan.index(kept[0].id)
    return plan.without(combine.id, *(s.id for s in washes if s not in kept)).inserting(at, combine)


@rule("quench-otherwise", check="order", stage=4)
def quench_otherwise(case: Case) -> Iterator[Breach]:
    """Of the choices, ``quench_with``, asked of the first quench by what is in its bottle."""
    wanted = case.exercise.choice("quench_with")
    first = next(iter(case.plan.of(Quench)), None)
    if wanted == "either" or first is None:
        return
    fits = (
        case.bottle(first.material).is_ammonium
        if wanted == "ammonium chloride"
        else case.is_acid(first.material)
    )
    if fits:
        return
    bottle = strongest_acid(case)
    if wanted == "ammonium chloride":
        bottle = next(iter(on_bench(case, lambda m: case.bottle(m).is_ammonium)), None)
    yield Breach(
        first.id,
        chosen(case, "quench_with", *say("quench-otherwise", wanted=wanted)),
        case.plan.replacing(replace(first, material=bottle)) if bottle else None,
    )


@rule("cosolvent-otherwise", check="order", stage=4)
def cosolvent_otherwise(case: Case) -> Iterator[Breach]:
    """Of the choices, ``cosolvent_removal``, where there is enough of it at the start."""
    wanted = case.exercise.choice("cosolvent_removal")
    first = next(((i, s) for i, s, _ in case.partings()), None)
    if wanted == "either" or first is None:
        return
    start = case.run.start.flasks[case.start_flask].total()
    mixes = float(cosolvent_mL(case, start)[0])
    whole = float(case.inventory.volume_mL(start)[0])
    if whole <= 0 or mixes < LEAST_COSOLVENT * whole:
        return
    taken_off = bool(case.plan.of(Strip, first[0]))
    if taken_off == (wanted == "evaporate"):
        return
    yield Breach(
        first[1].id,
        chosen(case, "cosolvent_removal", *say("cosolvent-otherwise", wanted)),
        evaporated(case, *first) if wanted == "evaporate" else _diluted_instead(case, first[0]),
    )


def _diluted_instead(case: Case, before: int) -> Plan:
    """The plan with water poured in where a solvent is taken off before the extraction."""
    strip = case.plan.of(Strip, before)[0]
    at = case.plan.index(strip.id)
    there = case.before(at).flasks[strip.flask].total()
    water_mL = float(there[case.inventory.water, 0]
                     * case.inventory.molar_volume[case.inventory.water])
    plan = diluted(case, at, strip, float(cosolvent_mL(case, there)[0]), water_mL)
    return plan.without(strip.id)
