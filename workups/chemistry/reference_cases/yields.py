"""Yields and uncertainties: open textbook examples and the law of propagation."""

from __future__ import annotations

from dataclasses import replace

from ..readings import Weighing
from ..setup import Glassware, Product, Reaction, Reagent, Setup
from ..substances import Substance, Tables
from ..tables import tables
from ..yields import Mass, Theoretical, mass_by_difference, percent_yield, theoretical_yield
from .case import HARVEY, OPENSTAX, ReferenceCase

# Molar masses [g/mol] from the standard atomic weights, as the examples round them.
_MOLAR_MASS = {
    "copper_sulfate": 159.62, "copper": 63.55, "tetrachloromethane": 153.81,
    "dichlorodifluoromethane": 120.91, "toluene": 92.14, "benzoic_acid": 122.12,
    "ethanol": 46.07, "ether": 74.12, "silicon": 28.09, "nitrogen": 28.02,
    "silicon_nitride": 140.29,
}


def _textbook_tables() -> Tables:
    def substance(key: str, molar_mass: float) -> Substance:
        return Substance(key, key, molar_mass, OPENSTAX, "A")

    return replace(tables(), substances={k: substance(k, m) for k, m in _MOLAR_MASS.items()})


def _theory(grams: dict[str, tuple[float, float]], product: str, coefficient: float
            ) -> Theoretical:
    """Theoretical yield from {reagent: (mass [g], coefficient)}."""
    reagents = tuple(Reagent(key, "reagent", per, mass_g=mass)
                     for key, (mass, per) in grams.items())
    setup = Setup(Reaction(reagents, (Product(product, coefficient),)), (), ())
    return theoretical_yield(setup, _textbook_tables(), product)


def copper() -> Theoretical:
    """CuSO4 + Zn -> Cu + ZnSO4 with 1.274 g copper sulfate."""
    return _theory({"copper_sulfate": (1.274, 1.0)}, "copper", 1.0)


def freon() -> Theoretical:
    """CCl4 + 2 HF -> CF2Cl2 + 2 HCl with 32.9 g tetrachloromethane."""
    return _theory({"tetrachloromethane": (32.9, 1.0)}, "dichlorodifluoromethane", 1.0)


def benzoic_acid() -> Theoretical:
    """Toluene oxidised to benzoic acid, 1.0 kg."""
    return _theory({"toluene": (1000.0, 1.0)}, "benzoic_acid", 1.0)


def ether() -> Theoretical:
    """2 C2H5OH -> (C2H5)2O + H2O with 1.50 L of ethanol of 0.7894 g/mL."""
    return _theory({"ethanol": (1500.0 * 0.7894, 2.0)}, "ether", 1.0)


def silicon_nitride() -> Theoretical:
    """3 Si + 2 N2 -> Si3N4 with 2.00 g silicon and 1.50 g nitrogen."""
    return _theory({"silicon": (2.00, 3.0), "nitrogen": (1.50, 2.0)}, "silicon_nitride", 1.0)


def _percent(found_g: float, theory: Theoretical) -> float:
    return percent_yield(Mass(found_g, 0.0), theory.mass).percent


def _sum_u() -> float:
    """u of a sum of two readings with u = 0.006 each, by our mass by difference."""
    readings = (Weighing("tare", 0.0, readability_g=0.0),
                Weighing("gross", 19.984, readability_g=0.0))
    mass = mass_by_difference(readings, Glassware(balance_repeatability_g=0.006))
    assert mass is not None
    return mass.u_g


def _product_u() -> float:
    """Relative u of a product of 0.15 +- 0.01 and 120 +- 1, by our quotient rule."""
    result = percent_yield(Mass(0.15, 0.01), Mass(1.0 / 120.0, 1.0 / 120.0**2))
    return result.u_percent / result.percent


def _yield(reaction: str, outside: float, found_g: float, theory: Theoretical) -> ReferenceCase:
    return ReferenceCase(reaction, "percent yield", "%", outside, 0.05, OPENSTAX,
                         lambda: _percent(found_g, theory))


CASES: tuple[ReferenceCase, ...] = (
    ReferenceCase("copper from copper sulfate", "theoretical yield", "g", 0.5072, 5e-5, OPENSTAX,
                  lambda: copper().mass.g),
    _yield("copper from copper sulfate", 77.3, 0.392, copper()),
    _yield("CF2Cl2 from CCl4", 48.3, 12.5, freon()),
    _yield("benzoic acid from toluene", 91.3, 1210.0, benzoic_acid()),
    _yield("ether from ethanol, by volumes", 87.6, 1170.0 * 0.7134, ether()),
    ReferenceCase("silicon nitride, two reagents", "theoretical yield", "mol", 0.0237, 5e-5,
                  OPENSTAX, lambda: silicon_nitride().amount_mmol * 1e-3),
    ReferenceCase("two readings of +- 0.006", "standard uncertainty", "1", 0.0085, 5e-5,
                  f"{HARVEY}, example 4.5 (printed 0.008)", _sum_u),
    ReferenceCase("product of 0.15 +- 0.01 and 120 +- 1", "relative uncertainty", "1", 0.0672,
                  5e-5, f"{HARVEY}, example 4.6", _product_u),
)
