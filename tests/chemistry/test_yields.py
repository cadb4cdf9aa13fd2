"""The mass of a product from its weighings: settled readings, and a sample that was divided."""

import math

import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.inventory import build_inventory
from workups.chemistry.materials import charged, charged_g
from workups.chemistry.readings import SamplePart, TargetReadings, Weighing
from workups.chemistry.setup import Glassware
from workups.chemistry.yields import mass_by_difference, product_mass, weighing_u_g
from workups.documents import library_exercise, library_names

GLASS = Glassware(balance_readability_g=0.01)


def tare(mass, **more):
    return Weighing("tare", mass, **more)


def gross(*masses):
    return [Weighing("gross", mass) for mass in masses]


def test_a_new_flask_counts_and_not_the_spilled_one():
    """45.30 g spilled, then 50.00 g supplied: 55.00 less 50.00, not less the mean of the two."""
    found = mass_by_difference([tare(45.30), *gross(51.24), tare(50.00), *gross(55.00)], GLASS)
    assert found.g == pytest.approx(5.00, abs=1e-9)


def test_tares_that_agree_are_averaged():
    found = mass_by_difference([tare(45.30), tare(45.31), *gross(51.24, 51.26)], GLASS)
    assert found.g == pytest.approx(51.25 - 45.305, abs=1e-9)


def test_parts_of_a_divided_sample_are_added():
    """2.91 g to the partner and 0.12 g for a spectrum beside 2.90 g in the flask."""
    parts = (
        SamplePart("to a partner", 45.30, 48.21),
        SamplePart("kept for another test", 0.0, 0.12),
    )
    record = TargetReadings((tare(40.00), *gross(42.90)), parts=parts)
    found = product_mass(record, GLASS)
    assert found.g == pytest.approx(2.90 + 2.91 + 0.12, abs=1e-9)
    one = weighing_u_g(0.01, GLASS.balance_repeatability_g)
    assert found.u_g == pytest.approx(math.sqrt(6) * one, rel=1e-9)


def test_parts_alone_are_no_mass():
    record = TargetReadings(parts=(SamplePart("used in a test", 0.0, 0.5),))
    assert product_mass(record, GLASS) is None


@pytest.mark.parametrize("name", library_names())
def test_what_was_charged_weighs_what_the_simulation_counts(name):
    setup = library_exercise(name).setup
    inv = build_inventory(setup, setup.tables, Draws(1, 1))
    # Molar masses of the tables are rounded to 0.01 g/mol, once by substance, once by component.
    assert charged_g(setup) == pytest.approx(float(inv.mass_g(charged(inv, setup))[0]), rel=1e-4)


def numbered(*weighings):
    return TargetReadings(tuple(Weighing(k, m, flask_number=n) for k, m, n in weighings))


TWO = numbered(
    ("tare", 50.0, "7"), ("tare", 40.0, "8"), ("gross", 51.95, "7"), ("gross", 41.0, "8")
)


def test_product_in_two_flasks_is_the_sum_of_both():
    found = product_mass(TWO, GLASS)
    assert found.g == pytest.approx(2.95)
    assert found.u_g == pytest.approx(2 * weighing_u_g(0.01, None), rel=1e-9)


def test_a_sum_that_cannot_be_is_one_product_poured_over():
    assert product_mass(TWO, GLASS, at_most_g=2.9).g == pytest.approx(1.0)


def test_a_number_left_out_makes_no_second_flask():
    """Two gross readings of one flask, the second without its number."""
    record = numbered(("tare", 50.0, "7"), ("gross", 52.95, "7"), ("gross", 52.94, ""))
    assert product_mass(record, GLASS).g == pytest.approx(2.945)


@pytest.mark.parametrize(("repeatability_g", "readings", "u_g"), [
    (None, 1, 0.010408), (None, 2, 0.007638), (0.0, 1, 0.0028868), (0.003, 1, 0.0041633)])
def test_a_weighing_has_rounding_and_repeatability(repeatability_g, readings, u_g):
    """d/sqrt(12) and s/sqrt(n), by hand, on a balance that reads 0.01 g (JCGM 100, F.2.2.1)."""
    assert weighing_u_g(0.01, repeatability_g, readings) == pytest.approx(u_g, rel=1e-4)
