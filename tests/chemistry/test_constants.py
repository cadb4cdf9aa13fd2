"""A physical constant and a limit of practice have one home; a number typed again is a double."""

from __future__ import annotations

import ast
import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import workups
from workups.chemistry import constants, limits
from workups.chemistry.tables import tables

ROOT = Path(workups.__file__).parent
HOMES = {"chemistry/constants.py", "chemistry/limits.py"}
# Numbers of their own on purpose: the outside checks, and the invented students.
OWN_TRUTH = ("chemistry/reference_cases/", "invented_students/")
# As they would be typed again: the value, and within what relative distance it is meant.
PHYSICAL = {
    "gas constant": (8.314462618, 1e-3),
    "standard atmosphere, Pa": (101325.0, 1e-3),
    "standard atmosphere, kPa": (101.325, 1e-3),
    "0 C in K": (273.15, 1e-3),
    "ion product of water": (1e-14, 1e-9),
    "molar mass of water": (18.015, 1e-3),
    "mass of the proton": (1.00728, 1e-4),
    "Faraday constant": (96485.0, 1e-3),
    "Avogadro constant": (6.022e23, 1e-3),
}


@cache
def _sources() -> tuple[tuple[str, ast.Module], ...]:
    return tuple(_parsed())


def _parsed() -> Iterator[tuple[str, ast.Module]]:
    for path in sorted(ROOT.rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        if name in HOMES or name.startswith((*OWN_TRUTH, "migrations/")):
            continue
        yield name, ast.parse(path.read_text(encoding="utf-8"))


@cache
def _numbers() -> tuple[tuple[str, int, float], ...]:
    return tuple(
        (name, node.lineno, float(node.value)) for name, tree in _sources()
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and type(node.value) in (int, float))


@pytest.mark.parametrize("what", PHYSICAL)
def test_a_physical_constant_is_typed_once(what: str) -> None:
    value, near = PHYSICAL[what]
    again = [f"{name}:{line}" for name, line, number in _numbers()
             if (math.isclose(number, value, rel_tol=near) and not number.is_integer())
             or number == value]
    assert again == []


def _assigned(tree: ast.Module) -> Iterator[str]:
    """Names given a value at the top of a module, those of a tuple too."""
    for node in tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else (
            [node.target] if isinstance(node, ast.AnnAssign) else [])
        for target in targets:
            parts = target.elts if isinstance(target, ast.Tuple) else [target]
            yield from (part.id for part in parts if isinstance(part, ast.Name))


def test_the_name_of_a_constant_or_limit_is_given_a_value_in_its_home_alone() -> None:
    homes = {name for home in (constants, limits) for name in vars(home) if name.isupper()}
    again = {f"{name}: {given}" for name, tree in _sources() for given in _assigned(tree)
             if given.lstrip("_") in homes}
    assert again == set()


def test_every_constant_and_limit_is_read_somewhere() -> None:
    homes = {name for home in (constants, limits) for name in vars(home) if name.isupper()}
    read = {node.id for _, tree in _sources() for node in ast.walk(tree)
            if isinstance(node, ast.Name)}
    assert homes - read == set()


def test_water_weighs_the_same_in_the_tables() -> None:
    assert tables().substances["water"].molar_mass == constants.WATER_G_MOL


def test_the_invented_students_take_nothing_from_the_diagnosis_they_measure() -> None:
    students = ROOT / "invented_students"
    taken = [path.name for path in students.rglob("*.py") for node in ast.walk(
        ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and "diagnosis" in (node.module or "")]
    assert taken == []
