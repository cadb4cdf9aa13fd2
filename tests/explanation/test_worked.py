"""The page of worked equations against the same sums done here by hand."""

import math
import re

import pytest

from workups.documents import library_exercise, library_names
from workups.explanation.worked import worked_chapters


def lines_of(name, title):
    chapters = {c.title: c for c in worked_chapters(library_exercise(name))}
    return {line.about: line.equation.replace("\u00a0", " ") for line in chapters[title].lines}


def test_amounts_and_theoretical_yield_by_hand():
    """1-Hexanol C6H14O 102.18 g/mol, hexyl acetate C8H16O2 144.21 g/mol."""
    assert lines_of("too-much-vinegar", "Amounts")["1-hexanol"].endswith(
        f"= {5.11 / 102.18 * 1000:.1f} mmol"
    )
    said = lines_of("too-much-vinegar", "Theoretical yield")["Hexyl acetate"]
    assert f"{5.11 / 102.18 * 144.21:.2f}" in said
    assert said.endswith("1-hexanol limits")


def test_a_shake_by_hand():
    """Acetic acid: log10 K of MTBE over water -0.45, pKa 4.76, at the pH and volumes printed."""
    said = next(
        equation
        for about, equation in lines_of("too-much-vinegar", "Who goes into which layer").items()
        if about.startswith("Step 6") and about.endswith("acetic acid")
    )
    pH = float(said.split("10^(")[1].split(" −")[0])
    organic, again, aqueous = map(float, re.findall(r"([\d.]+) mL", said))
    assert organic == again
    ratio = 10**-0.45 / (1 + 10 ** (pH - 4.76))
    share = ratio * organic / (ratio * organic + aqueous)
    assert said.endswith(f"= {100 * share:.0f} %")


def test_gas_and_balance_by_hand():
    gas = next(iter(lines_of("too-much-vinegar", "Gas").values()))
    n = float(gas.split()[2])
    said = float(gas.split()[-2])
    assert said == pytest.approx(n * 8.314462 * 293.15 / 101.325, rel=3e-3)  # n has three figures
    balance = lines_of("too-much-vinegar", "Balance and percent yield")["Mass by difference"]
    assert balance.endswith(f"= {math.sqrt(2 * (0.01**2 / 12 + 0.01**2)):.3f} g")


@pytest.mark.parametrize("name", library_names())
def test_every_library_exercise_can_be_worked(name):
    chapters = worked_chapters(library_exercise(name))
    assert {"Amounts", "Theoretical yield", "Who goes into which layer"} <= {
        c.title for c in chapters
    }
    for chapter in chapters:
        for line in chapter.lines:
            assert "nan" not in line.equation
            assert "inf" not in line.equation
