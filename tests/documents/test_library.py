"""The library exercise says what its chemistry allows."""

import pytest

from workups.chemistry.materials import reagent_mmol
from workups.chemistry.plan import Dry, Extract, Filter, Strip, Tare, Wash, Weigh
from workups.chemistry.tables import tables
from workups.documents import DocumentError, library_exercise, library_names


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


def test_points_add_up_to_a_hundred(vinegar):
    assert sum(vinegar.rubric.points.values()) == pytest.approx(100)


def test_own_values_and_rates_carry_their_grade(vinegar):
    marked = [*vinegar.setup.values.values(),
              *(r.k_L_mol_s for r in vinegar.setup.slow_reactions)]
    assert marked
    assert all(q.grade in "ABP" and q.source for q in marked)
