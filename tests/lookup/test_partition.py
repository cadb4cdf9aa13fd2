"""Partition from structure against measured values, and its parts against published ones."""

from __future__ import annotations

import pytest

from tests.bench.partition import Compared, by, compared, mean, rms, within_two
from workups.chemistry.quantity import Quantity
from workups.chemistry.tables import tables
from workups.lookup.partition import (
    NoEstimateError,
    descriptors,
    estimated_partition,
    mcgowan_volume,
    solvent_equations,
)

# Read in the solute library of the RMG-database (Abraham 1994): SMILES, E, S, A, B, V.
READ = [
    ("CC(C)=O", 0.179, 0.70, 0.04, 0.51, 0.5470),
    ("C1CCOC1", 0.289, 0.52, 0.00, 0.48, 0.6223),
    ("O=C1CCCCC1", 0.403, 0.86, 0.00, 0.56, 0.8611),
    ("CCOC(C)=O", 0.106, 0.62, 0.00, 0.45, 0.7466),
    ("CCCCCCOC(C)=O", 0.056, 0.60, 0.00, 0.45, 1.3102),
    ("CCCC(=O)O", 0.210, 0.62, 0.60, 0.45, 0.7466),
    ("CCCCO", 0.224, 0.42, 0.37, 0.48, 0.7309),
    ("CCCCCC", 0.000, 0.00, 0.00, 0.00, 0.9540),
    ("C1CCCCC1", 0.305, 0.10, 0.00, 0.00, 0.8454),
]


@pytest.mark.parametrize(("smiles", "e", "s", "a", "b", "v"), READ)
def test_descriptors_from_structure_are_near_those_read(
    smiles: str, e: float, s: float, a: float, b: float, v: float
) -> None:
    """V to the last digit; the others to 0.2, what the fragments are known to scatter."""
    found = descriptors(smiles)
    assert pytest.approx(v, abs=0.0001) == found.V
    assert pytest.approx((e, s, a, b), abs=0.2) == (found.E, found.S, found.A, found.B)


# Classes that the relation leaves off by more than 0.2 on average, and by how much at most: the
# groups in them have a scatter of their own (``abraham_groups.csv``).
WIDENED = {"aliphatic amine": 0.30, "aniline or pyridine": 0.30}
ENOUGH = 5


@pytest.fixture(scope="module")
def values() -> list[Compared]:
    return compared()


def test_estimates_scatter_about_measured_values_by_what_they_say(values: list[Compared]) -> None:
    """126 values in 8 solvents, 23 of them in no table: root mean square below 0.25 and below the
    stated scatter of each solvent, little bias, nineteen in twenty within twice the uncertainty."""
    assert len(values) > 120
    assert rms(values) <= 0.25
    assert within_two(values) >= 0.95
    for solvent, of in by(lambda c: c.solvent, values).items():
        assert rms(of) <= solvent_equations()[solvent].scatter + 0.005, solvent
        assert abs(mean(of)) < 0.15, solvent


def test_values_that_nothing_was_set_by_are_met_as_well(values: list[Compared]) -> None:
    held_out = [c for c in values if c.held_out]
    assert len(held_out) > 20
    assert rms(held_out) <= 0.25
    assert within_two(held_out) >= 0.95


def test_no_class_is_far_off_but_those_whose_uncertainty_says_so(values: list[Compared]) -> None:
    classes = {name: of for name, of in by(lambda c: c.of_class, values).items()
               if len(of) >= ENOUGH}
    assert len(classes) >= 8
    for name, of in classes.items():
        assert abs(mean(of)) <= WIDENED.get(name, 0.2), name
        assert within_two(of) >= 0.95, name
    for name in WIDENED:
        assert abs(mean(classes[name])) > 0.2, f"{name} need not be widened any more"


@pytest.mark.parametrize(
    ("smiles", "s", "a", "b"),
    [("CCCCN", 0.35, 0.16, 0.61), ("CCNCC", 0.30, 0.08, 0.69), ("CCN(CC)CC", 0.15, 0.0, 0.79)])
def test_aliphatic_amines_have_their_own_descriptors(
    smiles: str, s: float, a: float, b: float
) -> None:
    """Abraham 1993, recalled. The fragments gave NH2 no acidity, and amines went 0.5 log too far
    into chloroform, toluene and hexane."""
    found = descriptors(smiles)
    assert pytest.approx((s, a, b), abs=0.005) == (found.S, found.A, found.B)
    assert found.scatter > 0


@pytest.mark.parametrize(("smiles", "b", "b0"), [("Nc1ccccc1", 0.41, 0.50),
                                                  ("c1ccncc1", 0.52, 0.47)])
def test_anilines_and_pyridines_have_another_basicity_where_there_is_water(
    smiles: str, b: float, b0: float
) -> None:
    """Abraham 1993, recalled: aniline B 0.41, B0 0.50; pyridine 0.52 and 0.47."""
    found = descriptors(smiles)
    assert pytest.approx(b0 - b, abs=0.005) == found.B0 - found.B
    assert solvent_equations()["octanol"].basicity == "B0"


def test_an_uncertain_anchor_widens_the_estimate() -> None:
    """hypot(0.5, 0.30) = 0.58 with Crippen's log P, hypot(0.05, 0.30) = 0.30 with a read one."""
    guessed = estimated_partition("COc1ccccc1", Quantity(2.1, "1", 0.5, "rdkit_crippen", "B"))
    known = estimated_partition("COc1ccccc1", Quantity(2.1, "1", 0.05, "chemicals_syrres", "A"))
    assert guessed["toluene"].uncertainty == pytest.approx(0.58, abs=0.01)
    assert known["toluene"].uncertainty == pytest.approx(0.30, abs=0.01)
    assert {q.grade for q in guessed.values()} == {"B"}


def test_every_extraction_solvent_is_covered() -> None:
    assert solvent_equations().keys() - {"octanol"} == tables().solvents.keys()


def test_an_element_the_relation_does_not_cover_gives_no_estimate() -> None:
    with pytest.raises(NoEstimateError, match="Fe"):
        mcgowan_volume("[Fe]")
    kow = Quantity(1.0, "1", 0.5, "rdkit_crippen", "B")
    assert estimated_partition("C[Se]C", kow) == {}


def test_every_group_and_equation_names_a_source() -> None:
    known = tables().sources
    assert {e.source for e in solvent_equations().values()} <= known.keys()


def test_the_estimates_in_our_tables_are_those_of_the_relation() -> None:
    """To 0.02 log: whoever changes the relation changes the tables with it."""
    checked = 0
    for substance in tables().substances.values():
        ours = {k: q for k, q in substance.partition.items() if q.source == "abraham_platts"}
        if not ours:
            continue
        estimates = estimated_partition(substance.smiles, substance.values["log_kow"])
        for solvent, quantity in ours.items():
            checked += 1
            now = estimates[solvent]
            assert quantity.value == pytest.approx(now.value, abs=0.02), (substance.key, solvent)
            assert quantity.uncertainty == pytest.approx(now.uncertainty, abs=0.02)
    assert checked > 4000
