"""Rules that an exercise turns on: points on which instructors differ (see ``settings.py``).

None of them says anything unless the exercise asks for it; each shows the instructor's reason.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from workups.chemistry.limits import LEAST_COSOLVENT
from workups.chemistry.plan import Combine, Plan, Quench, Strip, Wash
from workups.chemistry.plan import Test as TestStep

from ..assessment import Strength
from ..case import Case
from ..rule import Breach, Remark, rule
from .contents import cosolvent_mL, on_bench, strongest_acid
from .cosolvent import diluted, evaporated

SMALL_LOSS = 0.1
SOURCE = "your instructor's choice"


def chosen(case: Case, key: str, message: str, change: str) -> Remark:
    """A remark on something the exercise asks for, with the instructor's reason."""
    reason = case.exercise.reason(key)
    tail = f" Asked for because: {reason}" if reason else ""
    return Remark(Strength.CHOICE, f"{message}{tail}", change, score_loss=SMALL_LOSS)


@rule("brine-required", check="order", title="Brine before drying", source=SOURCE, stage=4)
def brine_required(case: Case) -> Iterator[Breach]:
    """Where the exercise asks for it, the last wash before the drying agent is saturated salt
    solution. Without it the drying agent has more to do, and can do it in most cases.
    """
    if case.exercise.choice("brine") != "required":
        return
    washes = case.product_washes()
    dries = [s for i, s, _ in case.steps() if case.dries_product(i, s)]
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
        chosen(case, "brine", "There is no brine wash before drying.", "Wash with brine last."),
        mended,
    )


@rule(
    "water-between-acid-and-carbonate",
    check="order",
    title="Water between acid and carbonate",
    source=SOURCE,
    stage=4,
)
def water_between(case: Case) -> Iterator[Breach]:
    """Where the exercise asks for it, a water wash stands between an acid and a carbonate wash of
    the same layer: less gas, less salt, and no acid carried into the base.
    """
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
                chosen(
                    case,
                    "water_between",
                    "Acid and carbonate washes follow each other.",
                    "Wash with water between them.",
                ),
                case.plan.inserting(i, water),
            )
            return
        previous = step


def _kind(case: Case, material: str) -> str:
    if case.is_acid(material):
        return "acid"
    return "base" if case.bottle(material).is_base else ""


@rule("last-wash", check="order", title="Acid or base first", source=SOURCE, stage=4)
def last_wash(case: Case) -> Iterator[Breach]:
    """Acid first or base first: the last of the pair decides what traces are left, and habits
    differ. Where the exercise asks for one of them last, it is for the product's sake.
    """
    wanted = case.exercise.choice("last_wash")
    if wanted == "free":
        return
    sharp = [(s, _kind(case, s.material)) for _, s in case.product_washes()]
    sharp = [(s, k) for s, k in sharp if k]
    if not sharp or sharp[-1][1] == wanted or all(k != wanted for _, k in sharp):
        return
    yield Breach(
        sharp[-1][0].id,
        chosen(
            case,
            "last_wash",
            f"The last of the acid and base washes is the {sharp[-1][1]}.",
            f"Let the {wanted} wash come last.",
        ),
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


@rule(
    "extraction-not-checked",
    check="extraction",
    title="The extraction is not checked by TLC",
    source=SOURCE,
    stage=4,
)
def extraction_not_checked(case: Case) -> Iterator[Breach]:
    """Where the exercise asks for it, enough extractions are made when a spot of the aqueous layer
    shows no product by TLC.
    """
    extracts = case.extracts()
    if case.exercise.choice("extraction_check") != "TLC" or not extracts:
        return
    if any(isinstance(s, TestStep) and s.how == "TLC" for s in case.plan.steps):
        return
    at, last = extracts[-1]
    test = TestStep(id=case.plan.free_id("tlc"), flask=last.other_in, how="TLC")
    yield Breach(
        last.id,
        chosen(
            case,
            "extraction_check",
            "Nothing tells whether the extraction is complete.",
            "Spot the aqueous layer on a TLC plate.",
        ),
        case.plan.inserting(at + 1, test) if last.other_in in case.after(at).flasks else None,
    )


@rule("combined-late", check="order", title="Extracts combined late", source=SOURCE, stage=4)
def combined_late(case: Case) -> Iterator[Breach]:
    """Extracts may be combined before they are washed or before they are dried. Where the exercise
    asks for it, they are combined first: it saves washes.
    """
    if case.exercise.choice("combine") != "before washing":
        return
    washed = {
        s.keep_in for s in case.plan.steps if isinstance(s, Wash) and case.is_aqueous(s.material)
    }
    for step in case.plan.steps:
        if isinstance(step, Combine) and len(washed & {*step.flasks}) > 1:
            yield Breach(
                step.id,
                chosen(
                    case,
                    "combine",
                    "Each extract is washed by itself.",
                    "Combine the extracts first and wash them together.",
                ),
                _combined_first(case.plan, step),
            )
            return


def _combined_first(plan: Plan, combine: Combine) -> Plan | None:
    """The plan with the extracts combined before the first of them is washed, and washed once.

    None where a wash passes its layer on to another flask.
    """
    washes = [
        s for s in plan.steps[: plan.index(combine.id)]
        if isinstance(s, Wash) and s.flask in combine.flasks
    ]
    if not washes or any(s.keep_in != s.flask for s in washes):
        return None
    whole = washes[0].flask
    kept = [s for s in washes if s.flask == whole]
    for wash in kept:
        plan = plan.replacing(replace(wash, flask=combine.into, keep_in=combine.into))
    at = plan.index(kept[0].id)
    return plan.without(combine.id, *(s.id for s in washes if s not in kept)).inserting(at, combine)


@rule("quench-otherwise", check="order", title="What to quench with", source=SOURCE, stage=4)
def quench_otherwise(case: Case) -> Iterator[Breach]:
    """Ammonium chloride solution and dilute acid both quench; which one is asked for depends on
    what the product stands.
    """
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
        chosen(
            case,
            "quench_with",
            "The quench is not with what the exercise asks for.",
            f"Quench with {wanted}.",
        ),
        case.plan.replacing(replace(first, material=bottle)) if bottle else None,
    )


@rule(
    "cosolvent-otherwise",
    check="order",
    title="What to do about a solvent that mixes with water",
    source=SOURCE,
    stage=4,
)
def cosolvent_otherwise(case: Case) -> Iterator[Breach]:
    """A solvent that mixes with water is taken off before the extraction or diluted with much
    water. Both work; where the exercise asks for one of them, it says why.
    """
    wanted = case.exercise.choice("cosolvent_removal")
    first = next(((i, s) for i, s, _ in case.partings()), None)
    if wanted == "either" or first is None:
        return
    start = case.run.start.flasks[case.start_flask].total()
    mixes = float(cosolvent_mL(case, start)[0])
    whole = float(case.inventory.volume_mL(start)[0])
    if whole <= 0 or mixes < LEAST_COSOLVENT * whole:
        return
    taken_off = any(isinstance(s, Strip) for s in case.plan.steps[: first[0]])
    if taken_off == (wanted == "evaporate"):
        return
    yield Breach(
        first[1].id,
        chosen(
            case,
            "cosolvent_removal",
            "The solvent that mixes with water is "
            + ("taken off first." if taken_off else "not taken off before the extraction."),
            "Take it off before the extraction."
            if wanted == "evaporate"
            else "Dilute with water instead.",
        ),
        evaporated(case, *first) if wanted == "evaporate" else _diluted_instead(case, first[0]),
    )


def _diluted_instead(case: Case, before: int) -> Plan:
    """The plan with water poured in where a solvent is taken off before the extraction."""
    at, strip = next(
        (i, s) for i, s in enumerate(case.plan.steps[:before]) if isinstance(s, Strip))
    there = case.before(at).flasks[strip.flask].total()
    water_mL = float(there[case.inventory.water, 0]
                     * case.inventory.molar_volume[case.inventory.water])
    plan = diluted(case, at, strip, float(cosolvent_mL(case, there)[0]), water_mL)
    return plan.without(strip.id)
