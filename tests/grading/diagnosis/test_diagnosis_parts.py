"""The parts of the diagnosis: densities, notes in words, replaying, and whose code is whose."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import workups
from workups.chemistry.draws import Draws
from workups.chemistry.plan import Plan
from workups.chemistry.readings import Readings, SamplePart, TargetReadings, Weighing, Witness
from workups.chemistry.run import continue_run, simulate
from workups.documents import library_exercise
from workups.grading.assessment import Hypothesis
from workups.grading.case import Case
from workups.grading.diagnosis import all_scenarios
from workups.grading.diagnosis.densities import cauchy, log_normal, normal, phi
from workups.grading.diagnosis.extraction import MAKERS as EXTRACTION
from workups.grading.diagnosis.record import bench_record, noted
from workups.grading.diagnosis.recording import (
    decimal_moved,
    neighbours_swapped,
    swapped_tare,
    thousandfold,
)
from workups.grading.diagnosis.replay import replayed
from workups.grading.diagnosis.samples import KINDS, sample_of
from workups.grading.diagnosis.scenarios import bench_of
from workups.grading.diagnosis.weighing import ORDINARY, mass_likelihood
from workups.invented_students import applicable_slips
from workups.invented_students.accidents import possible_accidents
from workups.words.numbers import NBSP

ROOMS = Path(workups.__file__).parent
VINEGAR, BOTTLE = "too-much-vinegar", "three-in-one-bottle"


def done_case(name: str, draws: int = 24) -> Case:
    exercise = library_exercise(name)
    run = simulate(exercise.model_plan, exercise.setup, Draws(5, draws))
    return Case(exercise, exercise.model_plan, run)


def weighings(tare: float, *gross: float) -> Readings:
    found = (Weighing("tare", tare), *(Weighing("gross", g) for g in gross))
    return Readings(targets={"hexyl_acetate": TargetReadings(found)})


def test_densities_integrate_to_one() -> None:
    x = np.linspace(-4000.0, 4000.0, 2_000_001)
    assert np.trapezoid(normal(x, 3.0), x) == pytest.approx(1.0, abs=1e-6)
    assert np.trapezoid(cauchy(x, 2.0), x) == pytest.approx(1.0, abs=1e-3)
    y = np.linspace(1e-3, 60.0, 4001)
    values = [float(log_normal(v, np.array([5.0]), 0.4)[0]) for v in y]
    assert np.trapezoid(values, y) == pytest.approx(1.0, abs=1e-3)


def test_the_normal_distribution_function_has_its_tabled_values() -> None:
    # Tables of the normal distribution: 0.5, 0.95 at 1.6449, 0.975 at 1.9600.
    found = phi(np.array([0.0, 1.644854, 1.959964, -1.959964]))
    assert found == pytest.approx([0.5, 0.95, 0.975, 0.025], abs=1e-6)


def test_the_density_of_the_net_mass_integrates_to_one_over_what_may_be_found() -> None:
    case = done_case(VINEGAR)
    bench = bench_of(case, frozenset())
    held = bench.sample.holdings["hexyl_acetate"]
    width = bench.width_g["hexyl_acetate"]
    tare = 50.0

    def density(net: float) -> float:
        record = bench_record(case.exercise.setup, case.plan.steps, weighings(tare, tare + net))
        return float(np.mean(mass_likelihood(record.masses[0], held, width, ORDINARY, 1)))

    nets = np.linspace(4.0, 9.0, 1001)
    total = np.trapezoid([density(float(v)) for v in nets], nets)
    # The density of the tare (even in the logarithm, 3 to 300 g) and that of ordinary ticks.
    assert total == pytest.approx(1.0 / (tare * np.log(100.0)) * 0.98 * 0.996, rel=2e-3)


@pytest.mark.parametrize(("mass_g", "readability_g", "found"), [
    (48.372, 0.001, [84.372, 43.872, 48.732, 48.327]),  # the example of the trade notes
    (50.05, 0.01, [5.05, 50.50]),
    (-1.0, 0.01, []),
])
def test_swapped_neighbours_are_every_way_to_misread_one_number(
    mass_g: float, readability_g: float, found: list[float]
) -> None:
    swapped = neighbours_swapped(mass_g, readability_g)
    assert sorted(swapped) == pytest.approx(sorted(found))
    assert all(round(abs(s - mass_g) / readability_g) % 9 == 0 for s in swapped)


def test_every_rewriting_gives_readings_with_weights_that_sum_to_one() -> None:
    case = done_case(VINEGAR, 4)
    record = bench_record(case.exercise.setup, case.plan.steps, weighings(50.1, 56.4, 56.4))
    for rewriting in (swapped_tare, thousandfold, decimal_moved):
        found = rewriting(record.masses[0])
        assert sum(w for w, _ in found) == pytest.approx(1.0)
        assert all(len(r.gross) == 2 for _, r in found)


def test_what_was_taken_out_of_a_sample_counts_in_its_mass() -> None:
    """50.10 to 53.40 g, and 2.60 g to the partner: 5.90 g in all, in every rewriting too."""
    case = done_case(VINEGAR, 4)
    whole = weighings(50.1, 53.4).targets["hexyl_acetate"]
    divided = replace(whole, parts=(SamplePart("to a partner", 12.0, 14.6),))
    readings = Readings(targets={"hexyl_acetate": divided})
    (mass,) = bench_record(case.exercise.setup, case.plan.steps, readings).masses
    assert mass.net_g == pytest.approx(5.9)
    ((_, swapped),) = swapped_tare(mass)
    assert swapped.net_g == pytest.approx(-3.3 + 2.6)


@pytest.mark.parametrize(("kind", "text", "agrees", "what"), [
    ("appearance", "white grit at the bottom", False, "grit"),
    ("appearance", "Cloudy; droplets on the glass", None, "cloudy"),
    ("appearance", "not cloudy at all", None, "clean"),
    ("appearance", "clear yellow oil", None, "clean"),
    ("appearance", "brown", False, "off"),
    ("odour", "smells of MTBE", None, "solvent"),
    ("odour", "no smell of solvent", None, "clean"),
    ("odour", "sharp, like vinegar", False, "acid"),
    ("TLC", "two spots", False, "spot"),
    ("TLC", "one spot", True, "clean"),
    ("IR", "broad band at 3400", False, "band"),
    ("IR", "broad band, as in the reference", True, "clean"),
])
def test_a_note_in_words_is_understood(
    kind: str, text: str, agrees: bool | None, what: str
) -> None:
    setup = library_exercise(VINEGAR).setup
    found = noted(Witness(kind, text, agrees=agrees), setup)
    assert found is not None
    assert found.what == what


def test_an_empty_note_and_a_melting_range_without_numbers_say_nothing() -> None:
    setup = library_exercise(VINEGAR).setup
    assert noted(Witness("appearance", ""), setup) is None
    assert noted(Witness("mp", "melts"), setup) is None
    assert noted(Witness("taste", "sweet"), setup) is None


@pytest.mark.parametrize("name", [VINEGAR, BOTTLE])
def test_replaying_only_where_a_change_reaches_gives_what_carrying_out_all_gives(
    name: str,
) -> None:
    case = done_case(name, 6)
    tried = 0
    for slip in applicable_slips(case.exercise, case.plan):
        for way in possible_accidents(case.exercise, case.plan, slip):
            if way.setup != case.exercise.setup:
                continue
            fast = sample_of(replayed(case.run, way.plan))
            full = sample_of(continue_run(case.run, way.plan))
            for target, holding in fast.holdings.items():
                for kind in KINDS:
                    there = getattr(full.holdings[target], kind)
                    np.testing.assert_allclose(getattr(holding, kind), there, rtol=0, atol=1e-9)
            tried += 1
    assert tried > 20


def test_without_extractions_in_portions_none_can_have_been_left_out() -> None:
    exercise = library_exercise(VINEGAR)
    steps = tuple(replace(s, portions=1) if s.verb == "extract" else s
                  for s in exercise.model_plan.steps)
    run = simulate(Plan(steps), exercise.setup, Draws(1, 4))
    known = all_scenarios(bench_of(Case(exercise, Plan(steps), run), frozenset()))
    assert not {"single-portion", "one-portion-fewer", "later-extractions-skipped"} & set(known)
    assert {"layer-partly-lost", "wrong-layer"} <= set(known) & set(EXTRACTION)


@pytest.mark.parametrize(("package", "other"), [("invented_students", "diagnosis"),
                                                ("grading/diagnosis", "invented_students")])
def test_students_and_diagnosis_share_no_code_but_the_list_of_slips(
    package: str, other: str
) -> None:
    for path in sorted((ROOMS / package).glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                words = f"{node.module or ''}.{'.'.join(a.name for a in node.names)}".split(".")
                assert other not in words, f"{path.name} imports {node.module}"


def test_what_is_not_certain_is_never_said_to_be() -> None:
    shown = [Hypothesis("k", "t", p, (), "?").probability_words for p in (0.9987, 0.71, 0.004)]
    assert [words.replace(NBSP, " ") for words in shown] == ["over 99 %", "71 %", "under 1 %"]
