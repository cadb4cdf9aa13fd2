"""What a loss costs: held at the corners of the scale by hand, and by properties of real plans."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from workups.chemistry.plan import (
    START_FLASK,
    WASTE,
    Add,
    Collect,
    Cool,
    Discard,
    Dry,
    Extract,
    Filter,
    Label,
    Parting,
    Plan,
    Step,
    Strip,
    Tare,
    Transfer,
    Wash,
    Weigh,
)
from workups.chemistry.quantity import Quantity
from workups.chemistry.readings import Readings, TargetReadings, Weighing
from workups.documents import library_exercise, library_names
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment, Finding, Strength
from workups.grading.case import Case
from workups.grading.modelrun import model_run
from workups.grading.points.charges import (
    LOST_OF_ALL,
    PRODUCT_CHECKS,
    Explained,
    code_of,
    ledger_titles,
    ledger_words,
    priced,
)
from workups.grading.points.ledger import Entry, How
from workups.grading.points.littleweighed import little_weighed, share_weighed
from workups.grading.points.shortfall import KINDS, Shortfall, shortfall_of
from workups.words.numbers import percent

from ..planted import findings

DRAWS = 8
EXERCISE = library_exercise("plain-ether")  # order 25, extraction 20, drying 20: 65 in all
POINTS = {"order": 25.0, "extraction": 20.0, "drying": 20.0}
OTHER = {"upper": "lower", "lower": "upper"}


def _case(exercise: Exercise = EXERCISE) -> Case:
    return Case(exercise, exercise.model_plan, model_run(exercise, 1, DRAWS))


def _shortfall(short: float = 0.0, **excess: float) -> Shortfall:
    """The model plan's shortfall with made-up figures, the same in every draw."""
    found = shortfall_of(_case()).targets[0]
    kinds = {kind: np.full(DRAWS, excess.get(kind.split()[0], 0.0)) for kind in KINDS}
    return Shortfall((replace(found, short=np.full(DRAWS, short), excess=kinds),))


def _taken(findings: tuple[Finding, ...]) -> float:
    """Points that the product checks lose."""
    return sum(f.score_loss * POINTS[f.check] for f in findings if f.check in POINTS and f.charged)


@pytest.mark.parametrize(("short", "share"), [
    (0.0, 0.0), (0.03, 0.0), (0.13, 0.125), (0.43, 0.5), (0.83, 1.0), (1.0, 1.0)])
def test_product_lost_costs_one_and_a_quarter_of_its_share_beyond_three_hundredths(
    short: float, share: float
) -> None:
    written = _shortfall(short)
    assert _taken(priced(_case(), [], written, written, 0.6)) == pytest.approx(65 * share, abs=0.06)


@pytest.mark.parametrize(("kind", "grams", "share"), [
    ("water", 0.05, 0.10), ("water", 0.10, 0.20), ("acid", 0.45, 0.60), ("other", 0.80, 1.0),
    ("other", 3.0, 1.0), ("drying", 0.2, 0.543), ("solvent", 0.10, 0.13), ("solvent", 0.45, 0.39),
    ("solvent", 9.0, 0.65)])
def test_foreign_matter_costs_by_what_it_spoils(kind: str, grams: float, share: float) -> None:
    """0.2 at a tenth, all from four fifths on, straight lines between; solvent 0.65 of that,
    drying agent as twice as much; the first 0.02 free."""
    written = _shortfall(**{kind: grams})
    assert _taken(priced(_case(), [], written, written, 0.6)) == pytest.approx(
        65 * (share - 0.02), abs=0.06)


def test_loss_and_foreign_matter_add_up_and_never_to_more_than_all() -> None:
    both = _shortfall(0.43, water=0.10)
    assert _taken(priced(_case(), [], both, both, 0.6)) == pytest.approx(65 * 0.68, abs=0.06)
    ruined = _shortfall(0.7, other=0.75)
    assert _taken(priced(_case(), [], ruined, ruined, 0.6)) == pytest.approx(65)


def _rule_finding(check: str, asked: float) -> Finding:
    return Finding("product-washed-out", check, Strength.ADVICE, "wash-water", "m", "c", "w", "s",
                   cause="product-washed-out:wash-water", score_loss=asked)


def _explained(check: str, asked: float, short: float) -> Explained:
    return Explained(_rule_finding(check, asked), np.full(DRAWS, short), np.zeros(DRAWS))


def test_a_cause_takes_the_larger_of_what_its_rule_asks_and_what_is_lost() -> None:
    written, mended = _shortfall(0.13), _shortfall(0.0)
    for asked, points in ((0.1, 65 * 0.125), (0.5, 12.5)):
        found = priced(_case(), [_explained("order", asked, 0.13)], written, mended, 0.6)
        assert [f.code for f in found] == ["product-washed-out"]
        assert found[0].score_loss * 25 == pytest.approx(points)


def test_what_its_own_check_cannot_bear_a_cause_takes_from_the_others() -> None:
    """0.625 of 65 is 40.6: all 25 of order, the other 15.6 in equal parts of two checks of 20."""
    written = _shortfall(0.53)
    found = priced(_case(), [_explained("order", 0.0, 0.53)], written, _shortfall(0.0), 0.6)
    by_check = {f.check: f.score_loss * POINTS[f.check] for f in found}
    assert by_check == pytest.approx({"order": 25.0, "extraction": 7.8125, "drying": 7.8125})
    assert {f.code for f in found if f.check != "order"} == {code_of("not there")}


def test_the_rules_of_drying_ask_for_their_part_of_the_check() -> None:
    written = _shortfall()
    found = priced(_case(), [_explained("drying", 0.5, 0.0)], written, written, 0.6)
    assert found[0].score_loss == pytest.approx(0.3)


def test_mends_may_not_bring_back_more_than_is_missing() -> None:
    written = _shortfall(0.23)
    claims = [_explained("order", 0.0, 0.23), _explained("extraction", 0.0, 0.23)]
    found = priced(_case(), claims, written, _shortfall(0.0), 0.6)
    assert _taken(found) == pytest.approx(65 * 0.25)
    assert found[0].score_loss * 25 == pytest.approx(found[1].score_loss * 20)


def test_what_no_mend_brings_back_is_charged_whole() -> None:
    """A gentler strip that loses as much makes nothing free."""
    written = _shortfall(0.43)
    found = priced(_case(), [_explained("order", 0.0, 0.0)], written, written, 0.6)
    assert _taken(found) == pytest.approx(32.5, abs=0.06)


def test_the_last_causes_of_a_ruined_product_are_charged_as_the_first() -> None:
    """All points are gone at five sixths; the causes of the rest named what they took as free."""
    written = _shortfall(1.0)
    claims = [_explained("order", 0.4, 0.6), _explained("order", 0.0, 0.3),
              _explained("order", 0.0, 0.1)]
    found = [f for f in priced(_case(), claims, written, _shortfall(0.0), 0.6)
             if f.code == "product-washed-out"]
    assert all(f.charged for f in found)
    said = [n.value for f in found for n in f.numbers if n.name == "product lost"]
    brought = 100 * written.brought
    assert said == pytest.approx([0.6 * brought, 0.3 * brought, 0.1 * brought])


def test_products_that_go_the_same_way_to_the_same_place_are_one_finding() -> None:
    """Three lines of one step named 30 % of the products where all of them were gone."""
    exercise = library_exercise("three-in-one-bottle")
    plan = Plan((Discard(id="tip", flask=START_FLASK), Tare(id="tare", flask="vial"),
                 Weigh(id="weigh", flask="vial")))
    ledger = [f for f in findings(assess(exercise, plan, draws=DRAWS))
              if f.code == code_of(How.POURED_AWAY.value)]
    assert len(ledger) == 1
    assert all(name in ledger[0].message for name in (
        "lidocaine", "trans-cinnamic acid", "1,4-dimethoxybenzene"))


@pytest.mark.parametrize(("u", "said"), [(0.05, False), (0.5, True)])
def test_a_rule_whose_constant_is_not_sure_says_between_what_the_loss_may_be(
    u: float, said: bool
) -> None:
    """One portion of ether for four: K 3.6 and what half a unit of log K makes of it."""
    exercise = library_exercise("catch-it")
    own = Quantity(0.56, "1", u, "made up for the test", "P")
    values = {**exercise.setup.values, "log10_K:cyclohexanone:diethyl_ether": own}
    unsure = replace(exercise, setup=replace(exercise.setup, values=values))
    extract = next(s for s in unsure.model_plan.steps if isinstance(s, Extract))
    plan = unsure.model_plan.replacing(replace(extract, portions=1))
    found = next(f for f in findings(assess(unsure, plan, draws=60))
                 if f.code == "recovery-below-goal")
    lost = next(n for n in found.numbers if n.name == "product lost")
    between = f"between {percent(lost.low / 100)} and {percent(lost.high / 100)} of the product"
    assert (between in found.message) is said
    assert lost.low <= lost.value <= lost.high


def test_words_of_an_uncertain_loss_name_what_is_sure_of_it_and_charged() -> None:
    """96 % by the nominal constants and in all draws but a quarter, where there is none."""
    plan = EXERCISE.model_plan
    case = _case()
    found = shortfall_of(case).targets[0]
    lost = np.array([0.96, 0.96, 0.96, 0.0] * (DRAWS // 4))
    ledger = found.standing.ledger
    entry = Entry(WASTE, plan.steps[0].id, How.POURED_AWAY, lost * ledger.available_mmol)
    standing = replace(found.standing, ledger=replace(ledger, entries=(entry,)))
    written = Shortfall((replace(found, standing=standing, short=lost),))
    found_all = priced(case, [], written, written, 0.6)
    (charged,) = [f for f in found_all if f.code == code_of(How.POURED_AWAY.value)]
    assert f"from {percent(0.0)} to {percent(0.96)} of" in charged.message
    assert f"points are of {percent(0.64)}." in charged.message
    assert _taken(found_all) == pytest.approx(65 * 1.25 * 0.61, abs=0.06)


def _one_portion(log10_K: float, u: float) -> tuple[Assessment, Assessment]:
    """One portion of ether for four, with a constant that is so sure, beside the model plan."""
    exercise = library_exercise("catch-it")
    own = Quantity(log10_K, "1", u, "made up for the test", "P")
    values = {**exercise.setup.values, "log10_K:cyclohexanone:diethyl_ether": own}
    unsure = replace(exercise, setup=replace(exercise.setup, values=values))
    extract = next(s for s in unsure.model_plan.steps if isinstance(s, Extract))
    plan = unsure.model_plan.replacing(replace(extract, portions=1))
    return assess(unsure, plan, draws=60), assess(unsure, draws=60)


@pytest.mark.parametrize("log10_K", [0.56, 1.0, 1.4])
def test_the_less_sure_a_constant_is_the_less_its_loss_costs_and_never_nothing(
    log10_K: float,
) -> None:
    """The mean over the draws made half a unit of log K dearer than no doubt at all."""
    costs = [right.unrounded - wrong.unrounded
             for wrong, right in (_one_portion(log10_K, u) for u in (0.02, 0.25, 0.5))]
    assert costs[0] > costs[1] > costs[2] > 0.0


@pytest.mark.parametrize(("u", "strength"), [(0.02, Strength.PRODUCT_LOSS), (0.5, Strength.ADVICE)])
def test_a_loss_is_called_one_where_its_lower_end_is_as_large_as_a_sure_one_has_to_be(
    u: float, strength: Strength
) -> None:
    """Between 3 and 50 % it was called a product loss, as one of 20 % without any doubt is."""
    wrong, _ = _one_portion(1.0, u)
    found = next(f for f in findings(wrong) if f.code == "recovery-below-goal")
    lost = next(n for n in found.numbers if n.name == "product lost")
    assert lost.low is not None
    assert (lost.low >= 5.0) is (strength is Strength.PRODUCT_LOSS)
    assert found.strength is strength
    assert ("uncertain: between" in found.message) is (strength is Strength.ADVICE)


@pytest.mark.parametrize(("missed", "short", "counted"), [
    (0.0, 0.03, 0.0), (0.03, 0.03, 0.03), (0.01, 0.03, 0.01), (0.03, 0.13, 0.10),
    (0.10, 0.10, 0.10)])
def test_what_an_extraction_misses_of_its_goal_is_charged_from_the_goal_on(
    missed: float, short: float, counted: float
) -> None:
    """The free three hundredths came on top of the twentieth that a goal of 95 % forgives."""
    found = _shortfall(short).targets[0]
    written = Shortfall((replace(found, missed=np.full(DRAWS, missed)),))
    assert _taken(priced(_case(), [], written, written, 0.6)) == pytest.approx(
        65 * 1.25 * counted, abs=0.06)


@pytest.mark.parametrize("key", library_names())
def test_the_exercises_own_routes_lose_nothing(key: str) -> None:
    exercise = library_exercise(key)
    case = _case(exercise)
    for plan in (exercise.model_plan, *exercise.alternatives):
        here = shortfall_of(case.changed(plan))
        assert float(here.short.mean()) == pytest.approx(0.0, abs=1e-12)
        assert float(here.spoilt.mean()) == pytest.approx(0.0, abs=1e-12)


def _share(result: Assessment) -> float:
    return result.points / result.out_of


@pytest.mark.parametrize("key", library_names())
def test_without_a_product_no_more_than_a_quarter_is_earned(key: str) -> None:
    """Nothing in what is weighed, or nothing weighed: safety and bookkeeping are what is left."""
    exercise = library_exercise(key)
    plans = [
        Plan((Tare(id="t", flask="vial"), Weigh(id="w", flask="vial"))),
        Plan((Cool(id="c", flask="reaction flask"),)),
        Plan(tuple(s for s in exercise.model_plan.steps if s.verb != "weigh"))]
    for plan in plans:
        result = assess(exercise, plan, draws=DRAWS)
        assert _share(result) <= 0.25
        for check in result.checks:
            assert check.name not in (*PRODUCT_CHECKS, "yield") or check.points == 0.0


@pytest.mark.parametrize("key", [
    "bottom-layer", "catch-it", "clinging-solvent", "handle-gently", "plain-ether",
    "three-in-one-bottle", "too-much-vinegar"])
def test_a_mixture_weighed_as_it_is_earns_no_more_than_a_quarter(key: str) -> None:
    """All of the product is on the balance, and several times as much else: it is not missing."""
    plan = Plan((Weigh(id="w", flask=START_FLASK),))
    result = assess(library_exercise(key), plan, draws=DRAWS)
    assert _share(result) <= 0.25
    codes = {f.code for c in result.checks for f in c.findings}
    assert code_of("spoilt there") in codes
    assert code_of("not there") not in codes


STRONG = Strip(id="strip", flask="vial", bath_C=60, pressure_mbar=20, hold_min=30)
POURED = Transfer(id="pour", flask=START_FLASK, into="vial")


@pytest.mark.parametrize("key", library_names())
def test_a_reaction_mixture_only_stripped_is_no_isolated_product(key: str) -> None:
    """It earned 67 of 90 where the mixture holds little salt: nothing was extracted or washed."""
    exercise = library_exercise(key)
    own = [replace(s, flask="vial") for s in exercise.model_plan.steps if isinstance(s, Strip)]
    for strip in (*own[:1], STRONG):
        plan = Plan((Tare(id="t", flask="vial"), POURED, strip, Weigh(id="w", flask="vial")))
        assert _share(assess(exercise, plan, draws=DRAWS)) <= 0.26


def test_half_of_what_a_workup_takes_out_left_in_says_nothing_all_of_it_everything() -> None:
    written = _shortfall()
    for undone, share in ((0.5, 0.0), (0.75, 0.5), (1.0, 1.0), (1.4, 1.0)):
        one = replace(written.targets[0], undone=np.full(DRAWS, undone))
        taken = _taken(priced(_case(), [], Shortfall((one,)), Shortfall((one,)), 0.6))
        assert taken == pytest.approx(65 * max(0.0, share - 0.02), abs=0.06)


def _never_parted(plan: Plan, last: Parting) -> Plan:
    """All is poured together at the last shake, and goes on as its kept layer would."""
    steps: list[Step] = []
    for step in plan.steps:
        if step.id != last.id:
            steps += [step] if last.other_in not in step.takes() else []
            continue
        if isinstance(last, Wash):
            steps.append(Add(id="in", flask=last.flask, material=last.material,
                             volume_mL=last.volume_mL * last.portions))
        if last.keep_in != last.flask:
            steps.append(Transfer(id=last.id, flask=last.flask, into=last.keep_in))
    return Plan(tuple(steps))


def _never_dried(plan: Plan) -> Plan:
    """No drying agent; poured over and rinsed where it was filtered off."""
    return Plan(tuple(
        Transfer(id=s.id, flask=s.flask, into=s.into, rinse_with=s.rinse_with,
                 rinse_mL=s.rinse_mL, rinses=s.rinses) if isinstance(s, Filter) else s
        for s in plan.steps if not isinstance(s, Dry)))


@pytest.mark.parametrize("key", library_names())
def test_skipping_the_funnel_never_pays(key: str) -> None:
    """The last water layer with its salts goes along to the balance: never worth more than layers
    that were parted and not dried."""
    exercise = library_exercise(key)
    plan = exercise.model_plan
    last = [s for s in plan.steps if isinstance(s, Parting)][-1]
    undried = assess(exercise, _never_dried(plan), draws=DRAWS).points
    for skipped in (_never_parted(plan, last), _never_dried(_never_parted(plan, last))):
        assert assess(exercise, skipped, draws=DRAWS).points < undried


def test_a_number_of_portions_met_with_a_sip_of_solvent_is_charged_by_what_stays_behind() -> None:
    """Two portions were asked for; two of 5 mL left a quarter in the water for 2 points of 95."""
    exercise = replace(library_exercise("catch-it"), fixed_portions=4)
    step = next(s for s in exercise.model_plan.steps if isinstance(s, Extract))
    right = assess(exercise, draws=DRAWS)
    assert right.points == pytest.approx(right.out_of)
    sips = assess(exercise, exercise.model_plan.replacing(replace(step, volume_mL=5)), draws=DRAWS)
    lost = sum(n.share for n in sips.ledger if n.how == How.OTHER_LAYER.value)
    assert lost > 0.2
    assert sips.points < right.points - 65 * (lost - 0.05)
    found = {f.code for c in sips.checks for f in c.findings if f.charged}
    assert code_of(How.OTHER_LAYER.value) in found


@pytest.mark.parametrize("key", ["plain-ether", "catch-it", "bottom-layer", "clinging-solvent"])
@pytest.mark.parametrize("portions", [1, 2, 4])
def test_the_wrong_layer_kept_costs_all_that_speaks_of_the_product(
    key: str, portions: int
) -> None:
    exercise = library_exercise(key)
    step = next(s for s in exercise.model_plan.steps if isinstance(s, Extract))
    wrong = replace(step, portions=portions, keep=OTHER[step.keep])
    result = assess(exercise, exercise.model_plan.replacing(wrong), draws=DRAWS)
    assert _share(result) <= 0.25
    every = [f for c in result.checks for f in c.findings]
    found = next(f for f in every if f.code == "product-layer-put-aside")
    assert found.charged
    assert found.strength is Strength.PRODUCT_LOSS
    lost = next(n.value for n in found.numbers if n.name == "product lost")
    assert lost > 50  # with one portion part of it is the portions


def test_a_plan_of_one_step_that_cannot_be_carried_out_is_assessed_and_held() -> None:
    plan = Plan((Discard(id="d", flask="reaction flask"), Label(id="l", flask="nowhere")))
    result = assess(EXERCISE, plan, draws=DRAWS)
    assert result.safety_holds == ("cannot-be-carried-out",)
    first = assess(EXERCISE, Plan((Label(id="l", flask="nowhere"),)), draws=DRAWS)
    assert first.safety_holds == ("cannot-be-carried-out",)
    assert _share(first) <= 0.25


def test_of_three_products_a_number_says_whose_share_it_is() -> None:
    """The words speak of the acid, all of which is left; the number is a third of what there is, as
    far as right routes bring the acid to the balance, some nine tenths."""
    exercise = library_exercise("three-in-one-bottle")
    plan = exercise.model_plan
    collect = plan.steps[plan.index("collect-a")]
    assert isinstance(collect, Collect)
    result = assess(exercise, plan.replacing(replace(collect, into="dish B")), draws=DRAWS)
    found = next(f for c in result.checks for f in c.findings
                 if f.code == code_of(How.NOT_CARRIED_ON.value))
    assert {n.name: n.value for n in found.numbers} == {LOST_OF_ALL: pytest.approx(30.5, abs=1.0)}


def test_nothing_that_takes_points_is_called_information() -> None:
    """Mending it brings back nothing of what is missing, and much of what is spoilt."""
    exercise = library_exercise("three-in-one-bottle")
    plan = exercise.model_plan
    step = plan.steps[plan.index("rinse-acid")]
    assert isinstance(step, Wash)
    result = assess(exercise, plan.replacing(replace(step, keep=OTHER[step.keep])), draws=DRAWS)
    taking = [f for c in result.checks for f in c.findings if f.charged and f.score_loss > 0]
    assert taking
    assert [f.code for f in taking if f.strength is Strength.INFORMATION] == []


def test_every_way_of_losing_has_its_words() -> None:
    assert {how.value for how in How} <= set(ledger_words())
    for words in ledger_words().values():
        assert {"title", "message", "change"} <= set(words)
    assert len(set(ledger_titles().values())) == len(ledger_titles())


@pytest.mark.parametrize(("weighed", "points"), [
    (1.0, 0.0), (0.25, 0.0), (0.135, 65 / 6), (0.02, 65 / 3), (0.0, 65 / 3)])
def test_next_to_nothing_weighed_takes_up_to_a_third(weighed: float, points: float) -> None:
    found = little_weighed(POINTS, weighed)
    assert (found.score_loss * 25 if found else 0.0) == pytest.approx(points)


def test_the_share_weighed_is_a_mean_in_which_a_missing_mass_is_nothing() -> None:
    assert share_weighed((2.0, 4.0), (1.0, 4.4)) == pytest.approx(0.75)
    assert share_weighed((2.0,), (None,)) == 0.0


def test_an_empty_flask_that_is_weighed_is_next_to_nothing_weighed() -> None:
    """0.00 g earned 21 points more than 0.01 g, and than no mass at all."""
    target = EXERCISE.setup.targets[0].substance

    def points(gross_g: float) -> float:
        record = Readings(targets={target: TargetReadings(
            (Weighing("tare", 50.0), Weighing("gross", gross_g), Weighing("gross", gross_g)))})
        result = assess(EXERCISE, EXERCISE.model_plan, record, draws=DRAWS)
        return sum(c.points for c in result.checks)

    nothing = assess(EXERCISE, EXERCISE.model_plan, Readings(), draws=DRAWS)
    for gross_g in (49.99, 50.0, 50.01):
        assert points(gross_g) == pytest.approx(sum(c.points for c in nothing.checks), abs=0.5)
