"""Hazard statements of materials, and the GHS pictograms that stand for them.

Tables in ``data/``: ``hazard_pictograms.csv`` (statement, hazard, pictogram, signal word) and
``material_hazards.csv`` (solutions and drying agents as they are used), each row with source and
grade; ``sources.toml`` says what was read.
"""

import csv
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path

from workups.exercise.exercise import Exercise
from workups.words.material_facts import hazard_codes

# In the order in which they are shown.
PICTOGRAMS: Mapping[str, str] = {
    "exploding-bomb": "explosive",
    "flame": "flammable",
    "flame-over-circle": "oxidiser",
    "gas-cylinder": "gas under pressure",
    "corrosion": "corrosive",
    "skull": "toxic",
    "health": "serious health hazard",
    "exclamation": "irritant or harmful",
    "environment": "harms water life",
}
# The graver one first; only one is shown.
SIGNAL_WORDS = ("Danger", "Warning")
_DATA = Path(__file__).parent / "data"
_STATEMENT_LETTERS = 4  # "H360" of "H360FD"
_IRRITANT = frozenset({"H315", "H319"})
_SENSITISER = frozenset({"H317"})
_ACUTE = frozenset({"H302", "H312", "H332"})


@lru_cache(maxsize=1)
def pictogram_table() -> Mapping[str, str]:
    """Pictogram by hazard statement; empty for a statement without one."""
    return {row["code"]: row["pictogram"] for row in _rows("hazard_pictograms.csv")}


@lru_cache(maxsize=1)
def _signal_table() -> Mapping[str, str]:
    return {row["code"]: row["signal"] for row in _rows("hazard_pictograms.csv")}


@lru_cache(maxsize=1)
def _material_table() -> Mapping[str, tuple[str, ...]]:
    rows = _rows("material_hazards.csv")
    return {row["key"]: tuple(row["hazards"].split()) for row in rows}


def _rows(name: str) -> list[dict[str, str]]:
    with (_DATA / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def pictograms_of(codes: Iterable[str]) -> tuple[str, ...]:
    """The pictograms of some hazard statements, in the order in which they are shown.

    By the precedence of the GHS: a skull takes the place of the exclamation mark for acute
    toxicity, corrosion that for irritation, and the health hazard of a respiratory sensitiser
    that for irritation and skin sensitisation.

    >>> pictograms_of(["H225", "H319", "H336"]), pictograms_of(["H314", "H315"])
    (('flame', 'exclamation'), ('corrosion',))
    """
    given = _without_letters(codes)
    found = {pictogram_table().get(code, "") for code in given}
    hidden: set[str] = set()
    if "skull" in found:
        hidden |= _ACUTE
    if given & {"H314", "H318"}:
        hidden |= _IRRITANT
    if "H334" in given:
        hidden |= _IRRITANT | _SENSITISER
    shown = {pictogram_table().get(code, "") for code in given - hidden}
    return tuple(name for name in PICTOGRAMS if name in shown)


def signal_word(codes: Iterable[str]) -> str:
    """The signal word of some hazard statements; empty where they have none.

    >>> signal_word(["H319", "H225"]), signal_word(["H319"]), signal_word(["EUH066"])
    ('Danger', 'Warning', '')
    """
    words = {_signal_table().get(code, "") for code in _without_letters(codes)}
    return next((word for word in SIGNAL_WORDS if word in words), "")


def _without_letters(codes: Iterable[str]) -> set[str]:
    return {code if code.startswith("EUH") else code[:_STATEMENT_LETTERS] for code in codes}


def material_hazards(key: str, exercise: Exercise) -> tuple[str, ...]:
    """Hazard statements of a material as it is used; none for an exercise's own solution."""
    if any(own.key == key for own in exercise.setup.own_materials):
        return ()
    return _material_table().get(key, hazard_codes(key, exercise.setup.tables))
