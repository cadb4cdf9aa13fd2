"""What is asked about readings before they are locked."""

from decimal import Decimal

import pytest

from workups.documents import library_exercise
from workups.models import Reading, ReadingKind
from workups.selectors.bench import WeighingPair, weighing_questions

CENT = Decimal("0.01")


def reading(kind, mass):
    value = Decimal(mass)
    return Reading(kind=kind, value=value, decimals=2, unit="g", readability=CENT, on_pan=["flask"])


@pytest.mark.parametrize(
    ("tare", "gross", "asked"),
    [
        ("45.12", "84.07", "Was it 48.07 g"),  # 48.07 typed with its digits crossed
        ("54.12", "48.07", "Was it 45.12 g"),  # the tare's
        ("45.12", "48.07", ""),
    ],
)
def test_crossed_digits_are_asked_about_where_the_mass_cannot_be(tare, gross, asked):
    pair = WeighingPair(
        tares=(reading(ReadingKind.TARE, tare),), grosses=(reading(ReadingKind.GROSS, gross),)
    )
    said = " ".join(weighing_questions(pair, library_exercise("plain-ether")))
    assert ("Was it" in said) == bool(asked)
    assert asked in said
