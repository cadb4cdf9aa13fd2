"""What an experienced TA would say of a record, and would not: drawn up beforehand by hand.

The readings are those of one evening's use of the plain ether (3.28 g of product at most: 20.0
mmol of bromide, 164.25 g/mol; an ordinary class gets 2.8 to 3.1 g), and records made by carrying
the workup out with a slip in it. Nothing here is taken from the constants of the diagnosis.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.measures import measure
from workups.chemistry.plan import Extract, Parting, Plan, Strip, Wash
from workups.chemistry.readings import (
    DoneStep,
    DryingRecord,
    Readings,
    SeenVolume,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.chemistry.run import continue_run, simulate
from workups.documents import library_exercise, library_names
from workups.exercise.exercise import Exercise
from workups.grading.assessment import Hypothesis
from workups.grading.case import Case
from workups.grading.diagnosis.ranking import Explanations, explanations, places, ranked
from workups.grading.diagnosis.record import bench_record
from workups.grading.done import plan_as_done
from workups.grading.expected import weighed_mass
from workups.grading.modelrun import model_run
from workups.grading.rule import band

ETHER, PRODUCT, TARE = "plain-ether", "1_butoxy_4_methylbenzene", 62.48
SMELL = Witness("odour", "smells of solvent", agrees=False)
FAINT = Witness("odour", "faint, of the product", agrees=True)
ORDINARY_G = 2.96
LOOSE_1_G = DryingRecord("dry", 1.0, 2, "free-flowing", "clear", 20.0)
LAYER = ("extract", "ether layer")
FEWER_PORTIONS = {"single-portion", "one-portion-fewer", "later-extractions-skipped"}
DRAWS = 96


@lru_cache(maxsize=16)
def exercise_of(key: str) -> Exercise:
    return library_exercise(key)


@lru_cache(maxsize=24)
def known_of(key: str, plan: Plan, volumes: frozenset[tuple[str, str]]) -> Explanations:
    """All ways in which a plan can have gone; the same for every record of it."""
    exercise = exercise_of(key)
    run = continue_run(model_run(exercise, 1, DRAWS), plan)
    return explanations(Case(exercise, plan, run), volumes)


def diagnosed(readings: Readings, key: str = ETHER) -> tuple[Hypothesis, ...]:
    """As ``diagnose`` does it, keeping what does not depend on the masses."""
    exercise = exercise_of(key)
    plan = plan_as_done(exercise.model_plan, readings)
    record = bench_record(exercise.setup, plan.steps, readings)
    model = model_run(exercise, 1, DRAWS)
    bands = {m.target: band(weighed_mass(model, m.target), "g") for m in record.masses}
    return ranked(known_of(key, plan, frozenset(record.volumes_mL)), record, bands)


def weighed(*gross: float, tare: float = TARE, target: str = PRODUCT, **more: object) -> Readings:
    weighings = (Weighing("tare", tare), *(Weighing("gross", round(g, 2)) for g in gross))
    witnesses = more.pop("witnesses", ())
    return Readings(targets={target: TargetReadings(weighings, witnesses)}, **more)


def net(mass_g: float, **more: object) -> Readings:
    return weighed(TARE + mass_g, TARE + mass_g, **more)


def chances(found: Sequence[Hypothesis]) -> dict[str, float]:
    return {h.key: h.probability for h in found}


def of(found: Sequence[Hypothesis], key: str) -> Hypothesis:
    return next(h for h in found if h.key == key)


# Solvent that is still there.

@pytest.mark.parametrize("mass_g", [3.39, 3.49, 3.55, 3.69, 3.99])
@pytest.mark.parametrize("witnesses", [(), (SMELL,)])
def test_more_than_there_can_be_is_solvent_first(
    mass_g: float, witnesses: tuple[Witness, ...]
) -> None:
    found = diagnosed(weighed(TARE + mass_g, TARE + mass_g - 0.01, witnesses=witnesses))
    assert found[0].key == "solvent-left"


@pytest.mark.parametrize("mass_g", [3.39, 5.0, 6.0, 9.0, 13.0, 16.0])
def test_a_flask_that_smells_of_solvent_holds_solvent_however_much_it_is(mass_g: float) -> None:
    found = diagnosed(net(mass_g, witnesses=(SMELL,)))
    assert found[0].key == "solvent-left"
    assert found[0].probability > 0.6
    assert any("smells of solvent" in line for line in found[0].evidence)


def cut_short(exercise: Exercise) -> Iterator[tuple[str, float]]:
    """Masses [g] of flasks whose vacuum was forgotten or ended early, as the simulation has it:
    bath on, and the pressure brought down a part of the way only, from not at all."""
    strips = [s for s in exercise.model_plan.steps if isinstance(s, Strip)]
    (target,) = exercise.setup.targets
    for mbar in (900.0, 600.0, 400.0, 250.0, 150.0, 80.0):
        if mbar > strips[-1].pressure_mbar:
            early = replace(strips[-1], pressure_mbar=mbar, hold_min=0.0)
            run = simulate(exercise.model_plan.replacing(early), exercise.setup, Draws(3, 1))
            yield target.substance, float(measure(run, target.substance).mass_g[0])


@pytest.mark.parametrize("key", ["plain-ether", "too-much-vinegar", "bottom-layer"])
def test_nobody_who_forgot_or_cut_short_the_vacuum_is_left_out(key: str) -> None:
    exercise = exercise_of(key)
    tried = 0
    for target, mass_g in cut_short(exercise):
        ordinary = measure(model_run(exercise, 1, DRAWS), target).mass_g
        if mass_g < 1.05 * float(np.max(ordinary)):
            continue
        tried += 1
        full = 50.0 + mass_g
        record = weighed(full, full, tare=50.0, target=target, witnesses=(SMELL,))
        found = diagnosed(record, key)
        assert found[0].key == "solvent-left", (mass_g, chances(found))
    assert tried >= 2


# Layers that were not mixed.

@pytest.mark.parametrize("mass_g", [1.80, 2.01, 2.05])
def test_an_ordinary_low_yield_is_the_reaction_or_a_spill(mass_g: float) -> None:
    """Over 99 % of the oil lies on the water before the ether comes near it."""
    found = diagnosed(net(mass_g))
    assert {h.key for h in found[:2]} == {"incomplete-reaction", "spilled"}
    assert "not-mixed" not in chances(found)


def in_the_right_layer(exercise: Exercise, target: str) -> float:
    """Least share of a target, over all partings, that lies in the layer it belongs in before
    the shake, of what lies there after it (amounts of the nominal run, by hand from the flasks)."""
    run = simulate(exercise.model_plan, exercise.setup, Draws(1, 1))
    row, least = run.inventory.index[target], 1.0
    for at, outcome in enumerate(run.outcomes):
        step = outcome.step
        if not isinstance(step, Parting):
            continue
        before = run.before(at).flasks[step.flask]
        ends = [outcome.after.flasks[f] for f in (step.keep_in, step.other_in)
                if f in outcome.after.flasks]
        end = max(ends, key=lambda f: f.total()[row, 0])
        organic = end.organic[row, 0] > end.aqueous[row, 0]
        already = before.organic[row, 0] if organic else before.aqueous[row, 0]
        least = min(least, float(already / max(end.total()[row, 0], 1e-12)))
    return least


def ordinary_but(exercise: Exercise, target: str, share: float) -> Readings:
    """Every target weighs what it should, one of them a share of that."""
    model, readings = model_run(exercise, 1, DRAWS), {}
    for number, each in enumerate(exercise.setup.targets):
        mass_g = float(np.median(measure(model, each.substance).mass_g))
        full = round(40.0 + number + mass_g * (share if each.substance == target else 1.0), 2)
        readings[each.substance] = TargetReadings((
            Weighing("tare", 40.0 + number), Weighing("gross", full), Weighing("gross", full)))
    return Readings(targets=readings)


@pytest.mark.parametrize("key", sorted(library_names()))
def test_poor_mixing_is_named_only_where_something_had_to_cross_and_for_no_more(key: str) -> None:
    exercise = exercise_of(key)
    for target in exercise.setup.targets:
        already = in_the_right_layer(exercise, target.substance)
        found = diagnosed(ordinary_but(exercise, target.substance, 0.45), key)
        if already > 0.75:
            assert chances(found).get("not-mixed", 0.0) < 0.02, (target.substance, already)
        if already < 0.01:
            assert chances(found).get("not-mixed", 0.0) > 0.03, (target.substance, already)


# Portions.

@pytest.mark.parametrize("drying", [
    (), (LOOSE_1_G,), (replace(LOOSE_1_G, agent_mass_g=0.8),), (replace(LOOSE_1_G, agent_look=""),),
    (replace(LOOSE_1_G, agent_mass_g=1.5),)])
@pytest.mark.parametrize("mass_g", [2.86, 2.96, 3.05])
def test_a_mass_inside_both_bands_is_never_one_portion_only(
    mass_g: float, drying: tuple[DryingRecord, ...]
) -> None:
    found = diagnosed(net(mass_g, drying=drying))
    assert found[0].key == "nothing-wrong"
    assert sum(chances(found).get(k, 0.0) for k in FEWER_PORTIONS) < 0.12


@pytest.mark.parametrize("volume_mL", [18.0, 20.0, 22.0])
def test_a_small_volume_beside_an_ordinary_mass_may_have_been_read_early(volume_mL: float) -> None:
    record = net(ORDINARY_G, volumes=(SeenVolume(*LAYER, volume_mL),), drying=(LOOSE_1_G,))
    found = diagnosed(record)
    early, skipped = of(found, "volume-read-early"), of(found, "later-extractions-skipped")
    assert early.place == skipped.place == 1
    assert skipped.probability < 0.5
    assert "combined" in early.title
    assert any(f"{volume_mL:g} mL" in line for line in early.evidence)


def told_portions(portions: int, remark: str = "", mark: str = "changed") -> Readings:
    plan = exercise_of(ETHER).model_plan
    extract = next(s for s in plan.steps if isinstance(s, Extract))
    step = replace(extract, portions=portions, volume_mL=19.0) if mark == "changed" else extract
    steps = tuple(
        DoneStep(step, mark, remark=remark) if s.id == extract.id else DoneStep(s, "done")
        for s in plan.steps)
    return net(ORDINARY_G, volumes=(SeenVolume(*LAYER, 20.0),), steps=steps)


@pytest.mark.parametrize("record", [
    told_portions(2), told_portions(2, "two portions, both clear", "done"),
    told_portions(2, "2 x 20 mL", "done")])
def test_a_reported_count_of_portions_contradicts_one_portion(record: Readings) -> None:
    silent = chances(diagnosed(net(ORDINARY_G, volumes=(SeenVolume(*LAYER, 20.0),))))
    found = diagnosed(record)
    told = chances(found)
    assert told.get("later-extractions-skipped", 0.0) < 0.05
    assert told.get("later-extractions-skipped", 0.0) < 0.2 * silent["later-extractions-skipped"]
    assert told.get("single-portion", 0.0) < 0.01
    assert found[0].key == "volume-read-early"


# What is said for and against.

MOVERS = {
    "drying": ("of drying agent",),
    "volume": ("mL was read",),
    "smell": ("smells of solvent",),
    "falling": ("full readings",),
    "numbers": ("flask numbers",),
}


def without(record: Readings, part: str) -> Readings:
    mine = record.targets[PRODUCT]
    if part == "drying":
        return replace(record, drying=())
    if part == "volume":
        return replace(record, volumes=())
    if part == "smell":
        return replace(record, targets={PRODUCT: replace(mine, witnesses=())})
    if part == "numbers":
        plain = tuple(replace(w, flask_number="") for w in mine.weighings)
        return replace(record, targets={PRODUCT: replace(mine, weighings=plain)})
    tare, last = mine.weighings[0], mine.weighings[-1]
    return replace(record, targets={PRODUCT: replace(mine, weighings=(tare, last, last))})


def numbered(readings: Readings) -> Readings:
    mine = readings.targets[PRODUCT]
    tare, *gross = mine.weighings
    weighings = (replace(tare, flask_number="7"), *(replace(g, flask_number="9") for g in gross))
    return replace(readings, targets={PRODUCT: replace(mine, weighings=weighings)})


TOLD = [
    net(2.96, volumes=(SeenVolume(*LAYER, 22.0),), drying=(LOOSE_1_G,)),
    net(2.99, drying=(replace(LOOSE_1_G, agent_mass_g=0.4, agent_look="clumped"),)),
    net(3.06, drying=(replace(LOOSE_1_G, agent_mass_g=0.7, liquid_look="cloudy"),)),
    weighed(TARE + 3.30, TARE + 3.19, witnesses=(SMELL,), drying=(LOOSE_1_G,)),
    net(3.16, witnesses=(SMELL,), volumes=(SeenVolume(*LAYER, 38.0),)),
    numbered(net(3.80, witnesses=(FAINT,), drying=(replace(LOOSE_1_G, agent_mass_g=1.5),))),
]


@pytest.mark.parametrize("record", TOLD)
@pytest.mark.parametrize("part", sorted(MOVERS))
def test_the_evidence_names_everything_that_moved_the_ranking(
    record: Readings, part: str
) -> None:
    """Leave one part of the record out: where that moves an explanation against nothing wrong by
    more than a factor of three, its evidence has to speak of that part."""
    found = diagnosed(record)
    with_it, less = chances(found), chances(diagnosed(without(record, part)))
    for h in found:
        if h.key in ("nothing-wrong", "something-else") or h.key not in less:
            continue
        if "nothing-wrong" not in with_it or "nothing-wrong" not in less:
            continue
        odds = [c[h.key] / c["nothing-wrong"] for c in (with_it, less)]
        moved = max(odds[0] / odds[1], odds[1] / odds[0])
        if moved > 3.0:
            said = " ".join(h.evidence)
            assert any(w in said for w in MOVERS[part]), (h.key, part, round(moved, 1), said)


def test_a_sign_marked_as_not_agreeing_is_mentioned_whatever_it_moves() -> None:
    for text in ("smells of solvent", "sharp, of vinegar", "a little odd"):
        sign = Witness("odour", text, agrees=False)
        for h in diagnosed(net(ORDINARY_G, witnesses=(sign,))):
            assert any(text in line for line in h.evidence), (h.key, text)


# What fits equally well.

def test_explanations_that_fit_equally_well_share_a_place() -> None:
    found = diagnosed(net(2.01))
    assert [h.place for h in found[:2]] == [1, 1]
    clear = diagnosed(weighed(TARE, TARE, tare=TARE + ORDINARY_G))
    assert [h.place for h in clear[:2]] == [1, 2]


def test_places_by_hand() -> None:
    assert places([0.9, 0.06, 0.04]) == (1, 2, 2)
    assert places([0.4, 0.39, 0.11, 0.1]) == (1, 1, 3, 3)
    # Each is held against the first of its place, so that a place does not creep downwards.
    assert places([0.4, 0.25, 0.15]) == (1, 1, 3)
    assert places([]) == ()


# Digits and directions.

def test_crossed_digits_between_two_full_readings_are_named_for_the_right_one() -> None:
    """64.58, then 65.48: the second gives an ordinary 3.00 g."""
    found = diagnosed(weighed(64.58, 65.48))
    assert found[0].key == "digits-swapped"
    assert any("full reading no. 1" in line for line in found[0].evidence)
    other = diagnosed(weighed(65.48, 64.58))
    assert other[0].key == "digits-swapped"
    assert any("the last full reading" in line for line in other[0].evidence)
    tare = diagnosed(weighed(65.44, 65.44, tare=64.28))
    assert any("would be the tare" in line for line in of(tare, "digits-swapped").evidence)


@pytest.mark.parametrize(("first", "last"), [(64.58, 65.48), (65.40, 65.44), (65.36, 65.44)])
def test_a_mass_that_rises_is_not_solvent_on_its_way_out(first: float, last: float) -> None:
    found = diagnosed(weighed(first, last))
    assert chances(found).get("not-constant", 0.0) < 0.05
    likely = [h for h in found if h.place == found[0].place]
    assert not any("solvent" in h.question for h in likely)
    assert any("rose" in line for h in found[:1] for line in h.evidence)


# What was judged well stays so; the least probabilities are those a TA agreed with.

@pytest.mark.parametrize(("readings", "key", "least"), [
    (weighed(TARE, TARE, tare=TARE + ORDINARY_G), "tare-gross-swapped", 0.9),
    (net(0.97), "spilled", 0.7),
    (weighed(TARE + 3.60, TARE + 3.42, TARE + 3.30), "not-constant", 0.8),
    (weighed(TARE + ORDINARY_G - 0.05, TARE + ORDINARY_G, tare=TARE), "weighed-warm", 0.6),
    (numbered(net(4.4)), "another-flask", 0.8),
    (net(4.50, witnesses=(Witness("appearance", "white grit at the bottom", agrees=False),)),
     "agent-in-flask", 0.89),
    (net(ORDINARY_G, drying=(replace(LOOSE_1_G, agent_mass_g=1.5),),
         volumes=(SeenVolume(*LAYER, 40.0),), witnesses=(FAINT,)), "nothing-wrong", 0.75),
    (net(0.10), "wrong-layer", 0.9),
])
def test_what_was_judged_well_stays_so(readings: Readings, key: str, least: float) -> None:
    found = diagnosed(readings)
    assert found[0].key == key
    assert found[0].probability >= least


def test_washing_is_not_blamed_on_the_drying_agent() -> None:
    """More washing makes a layer no wetter: what the agent looked like is no sign of it."""
    washes = [s for s in exercise_of(ETHER).model_plan.steps if isinstance(s, Wash)]
    assert washes
    found = diagnosed(net(ORDINARY_G, drying=(LOOSE_1_G,)))
    assert chances(found).get("wash-took-product", 0.0) < 0.05
