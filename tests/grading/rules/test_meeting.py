"""Danger is judged by what is in the vessel after the step, whatever was poured into what.

Every pair of bottles is brought together in every manner that a plan has, in both orders. What
must be held and what must not stands in a table by hand, from what any safety office's list of
incompatible pairs says (common practice): hypochlorite with acid or ammonia, in any amount.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import combinations

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import WASTE, Step
from workups.grading import rules as _rules  # noqa: F401 (registers all rules)
from workups.grading.assess import assess
from workups.grading.assessment import Strength
from workups.grading.case import Case
from workups.grading.rule import RULES

from ..planted import findings
from .labs import Lab, charged, made_up
from .tables import case_of, found

OWN = {
    "citric": {"citric_acid": 0.54},
    "acetic": {"acetic_acid": 1.7},
    "hydrogensulfate": {"potassium": 1.0, "sulfate": 1.0},
    "phosphoric": {"phosphate": 1.0},
    "own_bleach": {"sodium": 1.4, "chloride": 0.7, "hypochlorous_acid": 0.7},
    "bisulfite": {"sodium": 2.0, "sulfur_dioxide": 2.0},
}
ACIDS = ("hcl_1m", "citric", "acetic", "hydrogensulfate", "phosphoric")
AMMONIA = ("nh4cl_sat", "nh3_2m")
CARBONATES = ("nahco3_5pct", "na2co3_10pct")
BLEACH = ("bleach_8_25pct", "own_bleach")
HARMLESS = ("water", "brine", "naoh_1m", "bisulfite", "na2so4_10pct")
BOTTLES = (*ACIDS, *AMMONIA, *CARBONATES, *BLEACH, *HARMLESS)
PAIRS = [pair for pair in combinations(BOTTLES, 2) if set(pair) & set(BLEACH)]
ML = 25.0


def _in_beaker(name: str, bottle: str, mL: float = ML) -> Step:
    return p.Add(id=f"into-{name}", flask=name, material=bottle, volume_mL=mL)


def _poured(kind: type[Step], first: str, second: str, **more: object) -> tuple[Step, ...]:
    return (_in_beaker("beaker", first),
            kind(id="it", flask="beaker", material=second, volume_mL=ML, **more))


def _shaken(kind: type[Step], first: str, second: str) -> tuple[Step, ...]:
    return (_in_beaker("beaker", first), p.Add(id="ether", flask="beaker",
                                               material="diethyl_ether", volume_mL=20.0),
            kind(id="it", flask="beaker", material=second, volume_mL=ML,
                 keep_in="kept", other_in="other"))


def _two(first: str, second: str, *last: Step) -> tuple[Step, ...]:
    return (_in_beaker("one", first), _in_beaker("two", second, ML), *last)


# How two bottles come together in a plan; the step that does it is called "it".
MANNERS: Mapping[str, Callable[[str, str], tuple[Step, ...]]] = {
    "add": lambda a, b: _poured(p.Add, a, b),
    "quench": lambda a, b: _poured(p.Quench, a, b, slowly=False),
    "wash": lambda a, b: _shaken(p.Wash, a, b),
    "extract": lambda a, b: _shaken(p.Extract, a, b),
    "combine": lambda a, b: _two(a, b, p.Combine(id="it", flasks=("one", "two"), into="all")),
    "combine into": lambda a, b: _two(a, b, p.Combine(id="it", flasks=("two",), into="one")),
    "transfer": lambda a, b: _two(a, b, p.Transfer(id="it", flask="two", into="one")),
    "filter": lambda a, b: _two(a, b, p.Filter(id="it", flask="two", into="one")),
    "collect": lambda a, b: (_in_beaker("one", a), p.Collect(
        id="it", flask="one", into="dish", filtrate_in="filtrate", wash_with=b,
        wash_mL=ML, washes=1)),
    "triturate": lambda a, b: _poured(p.Triturate, a, b, liquid_in="liquor"),
    "filtrate": lambda a, b: _two(a, b, p.Collect(
        id="it", flask="two", into="dish", filtrate_in="one")),
    "put aside": lambda a, b: _two(a, b, p.Add(
        id="ether", flask="two", material="diethyl_ether", volume_mL=20.0), p.Separate(
            id="it", flask="two", keep_in="kept", other_in="one")),
    "waste": lambda a, b: _two(a, b, p.Discard(id="first", flask="one", stream="aqueous"),
                               p.Discard(id="it", flask="two", stream="aqueous")),
    "waste of a layer": lambda a, b: _two(a, b, p.Discard(
        id="first", flask="one", stream="aqueous"), p.Add(
            id="ether", flask="two", material="diethyl_ether", volume_mL=20.0), p.Separate(
                id="it", flask="two", keep_in="kept", other_in=WASTE)),
}
POISON = ("oxidant-meets-acid", "waste-never-together")


def _lab(steps: tuple[Step, ...]) -> Lab:
    lab = made_up(
        (charged("acetophenone", g=1.0), charged("diethyl_ether", mL=20.0)),
        ("acetophenone",),
        ("diethyl_ether", "chloroform", "acetone", "naoh_6m", *BOTTLES[:1], *AMMONIA, *CARBONATES,
         "bleach_8_25pct", "nahso3_10pct", *(m for m in HARMLESS if m not in OWN)),
        steps)
    return lab.bringing(**OWN)


LAB = case_of(_lab(()), draws=2)


def _case(steps: tuple[Step, ...]) -> Case:
    return LAB.changed(p.Plan(steps))


def _found(case: Case, *codes: str) -> set[str]:
    return {b.step for code in codes for b in RULES[code].find(case)}


def _is_poison(one: str, other: str) -> bool:
    return any(a in BLEACH and b in (*ACIDS, *AMMONIA) for a, b in ((one, other), (other, one)))


@pytest.mark.parametrize("manner", MANNERS)
def test_bleach_with_acid_or_ammonia_is_held_in_every_manner_and_order(manner: str) -> None:
    wrong = []
    for one, other in PAIRS:
        for first, second in ((one, other), (other, one)):
            held = _found(_case(MANNERS[manner](first, second)), *POISON)
            if held != ({"it"} if _is_poison(one, other) else set()):
                wrong.append((first, second, held))
    assert wrong == []


@pytest.mark.parametrize("acid", ACIDS)
@pytest.mark.parametrize("until_pH", [3.0, 5.0, 9.0])
def test_bringing_bleach_or_acid_to_a_pH_with_the_other_is_held(
    acid: str, until_pH: float
) -> None:
    for first, second in (("bleach_8_25pct", acid), (acid, "bleach_8_25pct")):
        steps = (_in_beaker("beaker", first),
                 p.Adjust(id="it", flask="beaker", material=second, until_pH=until_pH))
        case = _case(steps)
        poured = float((case.after(1).put_in - case.before(1).put_in).sum()) > 0
        assert _found(case, *POISON) == ({"it"} if poured else set()), (first, second)


# Codes of what is told where gas comes off, by the manner.
GAS = ("carbonate-stoppered", "acid-on-carbonate", "poured-in-too-fast", "waste-makes-gas")


@pytest.mark.parametrize("manner", MANNERS)
def test_acid_and_carbonate_are_told_whichever_is_poured_into_which(manner: str) -> None:
    for acid in ACIDS:
        told = [_found(_case(MANNERS[manner](*order)), *GAS)
                for order in ((acid, "nahco3_5pct"), ("nahco3_5pct", acid))]
        assert told == [{"it"}, {"it"}], acid


@pytest.mark.parametrize("manner", MANNERS)
def test_carbonate_and_base_or_neutral_salt_make_no_gas(manner: str) -> None:
    for other in ("water", "brine", "naoh_1m", "na2so4_10pct", "nh3_2m"):
        for order in ((other, "nahco3_5pct"), ("nahco3_5pct", other)):
            assert _found(_case(MANNERS[manner](*order)), *GAS) == set(), order


# Manners that shake with ether: chloroform goes with it, not with what is put aside.
ONE_LAYER = ("wash", "extract", "put aside", "waste of a layer")


@pytest.mark.parametrize("manner", [m for m in MANNERS if m not in ONE_LAYER])
def test_chloroform_and_concentrated_base_are_held_whichever_is_poured_into_which(
    manner: str,
) -> None:
    for order in (("chloroform", "naoh_6m"), ("naoh_6m", "chloroform")):
        assert "it" in _found(_case(MANNERS[manner](*order)), "waste-never-together"), order


def test_every_kind_of_step_that_brings_liquids_together_is_tried() -> None:
    """A rinse is a solvent's alone, and bringing to a pH is tried above; a new kind joins here."""
    tried = {type(step) for make in MANNERS.values() for step in make("water", "brine")}
    meets = {
        kind for kind in p.STEP_KINDS.values()
        if any(spec.role == "liquid" or spec.produces for spec in p.field_specs(kind).values())}
    assert meets - tried == {p.Adjust, p.Rinse, p.Tare}


def test_what_was_found_poured_the_wrong_way_round_waits_for_a_ta() -> None:
    """The report that began it: bleach into a beaker with acid."""
    lab = _lab(_poured(p.Add, "hcl_1m", "bleach_8_25pct"))
    [hit] = found("oxidant-meets-acid", lab)
    assert hit.remark.strength is Strength.SAFETY_HOLD
    # 25 mL of 1.23 M: 30.75 mmol, 740 mL at 24.06 mL/mmol.
    assert hit.remark.numbers[0].value == pytest.approx(740, abs=3)
    assert hit.breach.mended == p.Plan(lab.plan.steps[:1])
    assert "oxidant-meets-acid" in {
        f.code for f in findings(assess(lab.exercise, lab.plan, None, draws=8))}


def test_what_was_together_from_the_start_is_no_mistake_of_a_later_step() -> None:
    """Alcohols are oxidised with bleach in acetic acid: quenching that brings nothing new."""
    lab = made_up(
        (charged("acetophenone", g=3.0), charged("sodium_hypochlorite", mmol=15.0),
         charged("acetic_acid", mmol=50.0), charged("water", mL=50.0)),
        ("acetophenone",),
        ("diethyl_ether", "water", "nahso3_10pct", "hcl_3m", "sodium_sulfate"),
        (p.Add(id="water", flask="reaction flask", material="water", volume_mL=20.0),
         p.Add(id="reduce", flask="reaction flask", material="nahso3_10pct", volume_mL=20.0)),
        start_phase="aqueous")
    assert found("oxidant-meets-acid", lab) == []
    stronger = lab.before("reduce", p.Add(
        id="acid", flask="reaction flask", material="hcl_3m", volume_mL=20.0))
    assert [h.breach.step for h in found("oxidant-meets-acid", stronger)] == ["acid"]


def test_too_little_bisulfite_that_turns_the_rest_sour_is_told_as_such() -> None:
    """24.6 mmol of hypochlorite, 15.5 of bisulfite: 9.1 left, and 15.5 of acid to 9.1 of its
    anion."""
    lab = _lab((_in_beaker("beaker", "bleach_8_25pct", 20.0), p.Add(
        id="it", flask="beaker", material="nahso3_10pct", volume_mL=15.0)))
    [hit] = found("oxidant-meets-acid", lab)
    assert "more than the reducing agent" in hit.remark.message
    assert hit.breach.mended is not None
    assert found("oxidant-meets-acid", Lab(lab.exercise, hit.breach.mended)) == []


def test_water_in_another_flask_is_no_quench() -> None:
    lab = made_up(
        (charged("4_methoxybenzyl_alcohol", g=2.0), charged("sodium_borohydride", mmol=10.0),
         charged("mtbe", mL=40.0)),
        ("4_methoxybenzyl_alcohol",), ("mtbe", "water", "nh4cl_sat"),
        (p.Add(id="aside", flask="beaker", material="water", volume_mL=30.0),
         p.Wash(id="part", flask="reaction flask", material="water", volume_mL=30.0,
                keep_in="organic", other_in="aqueous")))
    assert [h.breach.step for h in found("not-quenched", lab)] == ["part"]
