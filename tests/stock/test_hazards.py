"""Hazard statements and pictograms: the tables hold together, the precedence is the standard's."""

import csv
import tomllib
from pathlib import Path

import pytest

from workups.chemistry.tables import tables
from workups.documents import library_exercise
from workups.stock.hazards import (
    PICTOGRAMS,
    SIGNAL_WORDS,
    material_hazards,
    pictogram_table,
    pictograms_of,
    signal_word,
)

DATA = Path(__file__).parents[2] / "workups" / "stock" / "data"


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def test_every_statement_of_every_material_is_in_the_table():
    known = pictogram_table()
    given = {h for s in tables().substances.values() for h in s.hazards}
    given |= {h for row in rows("material_hazards.csv") for h in row["hazards"].split()}
    short = {h if h.startswith("EUH") else h[:4] for h in given}
    assert short - set(known) == set()
    assert set(known.values()) - {""} == set(PICTOGRAMS)


@pytest.mark.parametrize("name", ["hazard_pictograms.csv", "material_hazards.csv"])
def test_every_row_has_its_source_and_is_there_once(name):
    sources = tomllib.loads((DATA / "sources.toml").read_text(encoding="utf-8"))
    keys = [next(iter(row.values())) for row in rows(name)]
    assert len(keys) == len(set(keys))
    assert all(row["source"] in sources and row["grade"] in ("A", "B") for row in rows(name))


def test_materials_with_hazards_are_materials():
    known = tables()
    keys = {row["key"] for row in rows("material_hazards.csv")}
    assert keys <= set(known.solutions) | set(known.agents)


@pytest.mark.parametrize(
    ("codes", "expected"),
    [
        # the rules of precedence of the GHS, one by one
        (["H301", "H302"], ("skull",)),
        (["H301", "H319"], ("skull", "exclamation")),
        (["H314", "H315", "H319"], ("corrosion",)),
        (["H314", "H335"], ("corrosion", "exclamation")),
        (["H290", "H315"], ("corrosion", "exclamation")),
        (["H334", "H317", "H319"], ("health",)),
        (["H225", "H361d", "H304", "H336"], ("flame", "health", "exclamation")),
        (["H412", "EUH066"], ()),
        ([], ()),
    ],
)
def test_pictograms_by_the_precedence_of_the_standard(codes, expected):
    assert pictograms_of(codes) == expected


@pytest.mark.parametrize(
    ("codes", "word"),
    [
        (["H319", "H226"], "Warning"),
        (["H319", "H225"], "Danger"),
        (["H361d"], "Warning"),
        (["H360FD"], "Danger"),
        (["H411", "EUH066"], ""),
    ],
)
def test_the_graver_signal_word_stands_alone(codes, word):
    assert signal_word(codes) == word


def test_a_statement_with_a_signal_word_is_one_of_two():
    signals = {row["code"]: row["signal"] for row in rows("hazard_pictograms.csv")}
    assert set(signals.values()) == {*SIGNAL_WORDS, ""}
    assert all(row["pictogram"] or not row["signal"] or row["code"] == "H221"
               for row in rows("hazard_pictograms.csv"))


def test_a_solution_has_the_hazards_of_its_own_strength():
    exercise = library_exercise("three-in-one-bottle")
    assert "H314" in material_hazards("naoh_3m", exercise)
    assert material_hazards("brine", exercise) == ()
    assert "H225" in material_hazards("mtbe", exercise)
