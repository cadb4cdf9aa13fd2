"""The library exercises say what their chemistry allows."""

import pytest

from workups.chemistry.materials import reagent_mmol
from workups.chemistry.plan import Dry, Extract, Filter, Strip, Tare, Wash, Weigh
from workups.chemistry.recovery import fraction_left
from workups.chemistry.tables import tables
from workups.chemistry.yields import theoretical_yield
from workups.documents import DocumentError, library_exercise, library_names
from workups.grading.case import Case
from workups.grading.modelrun import model_run
from workups.grading.rules.extraction import plan_recovery


@pytest.fixture(scope="module")
def vinegar():
    return library_exercise("too-much-vinegar")


def test_the_library_is_found_by_name():
    assert "too-much-vinegar" in library_names()
    assert all(library_exercise(name).key == name for name in library_names())


def test_an_unknown_name_is_answered_with_what_is_there():
    with pytest.raises(DocumentError, match=r'"too-much-vinegr" \(did you mean "too-much-vinegar"'):
        library_exercise("too-much-vinegr")


def test_amounts_are_fifty_mmol_of_alcohol_and_three_equivalents_of_acid(vinegar):
    """5.11 g / 102.18 g/mol = 50.0 mmol; 9.01 g / 60.05 g/mol = 150 mmol (hand calculation)."""
    mmol = {r.substance: reagent_mmol(r, tables()) for r in vinegar.setup.reaction.reagents}
    assert mmol["1_hexanol"] == pytest.approx(50.0, abs=0.05)
    assert mmol["acetic_acid"] == pytest.approx(150.0, abs=0.1)
    assert mmol["sulfate"] == pytest.approx(9.0, abs=0.1)


def test_the_conversion_stays_below_the_equilibrium_limit(vinegar):
    """x^2 = 4 (1 - x)(3 - x) gives x = (16 - sqrt(112)) / 6 = 0.9028 (hand calculation)."""
    limit = (16 - 112**0.5) / 6
    assert limit**2 == pytest.approx(4 * (1 - limit) * (3 - limit))
    assert vinegar.setup.reaction.conversion.high < limit


def test_the_model_plan_is_the_canonical_scheme(vinegar):
    order = [type(s) for s in vinegar.model_plan.steps
             if isinstance(s, Extract | Wash | Dry | Tare | Filter | Strip | Weigh)]
    assert order == [Extract, Wash, Wash, Wash, Dry, Tare, Filter, Strip, Weigh]
    washes = [s.material for s in vinegar.model_plan.steps if isinstance(s, Wash)]
    assert washes == ["water", "nahco3_5pct", "brine"]


def test_a_plan_can_go_wrong_with_what_is_on_the_bench(vinegar):
    assert {"naoh_1m", "hcl_1m", "calcium_chloride"} <= set(vinegar.setup.materials)


@pytest.mark.parametrize("name", library_names())
def test_points_add_up_to_a_hundred(name):
    assert sum(library_exercise(name).rubric.points.values()) == pytest.approx(100)


@pytest.mark.parametrize("name", library_names())
def test_own_values_and_rates_carry_their_grade(name):
    setup = library_exercise(name).setup
    marked = [*setup.values.values(), *(r.k_L_mol_s for r in setup.slow_reactions)]
    assert all(q.grade in "ABP" and q.source for q in marked)
    assert marked or name not in ("too-much-vinegar", "handle-gently", "slow-to-leave")


@pytest.mark.parametrize("name", library_names())
def test_an_exercise_has_two_other_routes_and_all_its_texts(name):
    exercise = library_exercise(name)
    texts = exercise.texts
    assert len(exercise.alternatives) == 2
    assert all((texts.summary, texts.background, texts.task, exercise.sources))
    assert len(texts.cautions) >= 4
    assert len(texts.questions) >= 3


@pytest.mark.parametrize("name", library_names())
def test_no_deadly_poison_and_nothing_sure_to_cause_cancer_or_harm_the_unborn_is_put_out(name):
    """H300, H310, H330 and H340, H350, H360: what no stockroom gives to a class."""
    setup, known = library_exercise(name).setup, tables()
    used = {*(r.substance for r in setup.reaction.reagents), *setup.materials} & set(
        known.substances)
    barred = ("H300", "H310", "H330", "H360", "H350", "H340")
    found = {k: h for k in used for h in known.substances[k].hazards if h.startswith(barred)}
    assert found == {}


@pytest.mark.parametrize(("name", "target", "grams"), [
    # mass of the limiting reagent, its molar mass, molar mass of the product: by hand
    ("there-and-back", "n_4_methoxybenzyl_propan_2_amine", 2.72 / 136.15 * 179.26),
    ("slow-to-leave", "4_phenylcyclohexanone_ethylene_ketal", 1.74 / 174.24 * 218.30),
    ("handle-gently", "2_4_methoxyphenyl_propan_2_ol", 3.00 / 150.18 * 166.22),
    ("clinging-solvent", "4_butoxy_3_methoxybenzaldehyde", 1.52 / 152.15 * 208.26),
    ("catch-it", "cyclohexanone", 5.01 / 100.16 * 98.15),
    ("plain-ether", "1_butoxy_4_methylbenzene", 2.74 / 137.02 * 164.25),
    ("bottom-layer", "caffeine", 0.300),
])
def test_the_theoretical_yield_is_what_the_limiting_reagent_allows(name, target, grams):
    found = theoretical_yield(library_exercise(name).setup, tables(), target)
    assert found.mass.g == pytest.approx(grams, rel=1e-3)


def test_the_hydride_left_over_gives_three_quarters_of_a_litre_at_most():
    """4 x 11.9 mmol less the 0.78 x 20.0 mmol that were used: 32 mmol, 24.06 mL each (by hand)."""
    reaction = library_exercise("there-and-back").setup.reaction
    mmol = {r.substance: reagent_mmol(r, tables()) for r in reaction.reagents}
    left = 4 * mmol["sodium_borohydride"] - reaction.conversion.low * mmol["p_anisaldehyde"]
    assert left * 24.06 == pytest.approx(770, abs=10)


def test_three_portions_of_dichloromethane_reach_the_goal_and_one_does_not():
    """K 9.5 read, 60 mL of water: (60/(60 + 9.5 x 15))^3 = 0.026, 60/(60 + 9.5 x 45) = 0.123."""
    exercise = library_exercise("bottom-layer")
    goal = exercise.setup.targets[0].recovery_goal
    assert 1 - fraction_left(9.5, 60, 15, 3) > goal
    assert 1 - fraction_left(9.5, 60, 45, 1) < goal
    case = Case(exercise, exercise.model_plan, model_run(exercise, 1, 25))
    found = plan_recovery(case, "caffeine")
    assert found.nominal == pytest.approx(1 - fraction_left(9.5, 60, 15, 3), abs=0.015)
