"""Partition from structure against measured values, and its parts against published ones."""

from __future__ import annotations

import math
from collections import defaultdict

import pytest

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


def measured_and_estimated() -> dict[str, list[tuple[float, Quantity]]]:
    """Grade A partition values of our tables, each with its estimate, by solvent."""
    pairs: dict[str, list[tuple[float, Quantity]]] = defaultdict(list)
    for substance in tables().substances.values():
        log_kow = substance.values.get("log_kow")
        if log_kow is None or log_kow.grade != "A" or "." in substance.smiles:
            continue
        estimates = estimated_partition(substance.smiles, log_kow)
        for solvent, measured in substance.partition.items():
            if measured.grade == "A" and solvent in estimates:
                pairs[solvent].append((measured.value, estimates[solvent]))
    return pairs


def test_estimates_scatter_about_measured_values_by_what_they_say() -> None:
    """About 100 values in 7 solvents: root mean square below the stated scatter, little bias."""
    pairs = measured_and_estimated()
    assert sum(map(len, pairs.values())) > 90
    for solvent, both in pairs.items():
        errors = [estimate.value - measured for measured, estimate in both]
        mean = sum(errors) / len(errors)
        rms = math.sqrt(sum(e * e for e in errors) / len(errors))
        assert rms <= solvent_equations()[solvent].scatter + 0.005, solvent
        assert abs(mean) < 0.15, solvent


def test_nineteen_in_twenty_lie_within_twice_the_uncertainty() -> None:
    inside = [abs(estimate.value - measured) < 2 * estimate.uncertainty
              for both in measured_and_estimated().values() for measured, estimate in both]
    assert sum(inside) / len(inside) >= 0.95


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
        for solvent, quantity in substance.partition.items():
            if quantity.source != "abraham_platts":
                continue
            checked += 1
            now = estimated_partition(substance.smiles, substance.values["log_kow"])[solvent]
            assert quantity.value == pytest.approx(now.value, abs=0.02), (substance.key, solvent)
            assert quantity.uncertainty == pytest.approx(now.uncertainty, abs=0.02)
    assert checked > 300
