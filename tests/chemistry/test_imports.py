"""The core is plain Python and numpy; the second simulation shares none of its code."""

from __future__ import annotations

import ast
import doctest
import importlib
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CORE = sorted((ROOT / "workups" / "chemistry").rglob("*.py"))
SCALAR = sorted((Path(__file__).parent / "scalar").glob("*.py"))


def imported(path: Path) -> Iterator[str]:
    """Names of the top-level packages a module imports from outside its own package."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.split(".")[0]


@pytest.mark.parametrize("path", CORE, ids=lambda p: p.stem)
def test_the_core_needs_the_standard_library_and_numpy_only(path: Path) -> None:
    assert set(imported(path)) <= {*sys.stdlib_module_names, "numpy"}


@pytest.mark.parametrize("path", SCALAR, ids=lambda p: p.stem)
def test_the_scalar_simulation_shares_no_code_with_the_program(path: Path) -> None:
    assert set(imported(path)) <= {*sys.stdlib_module_names, "numpy", "scipy"}


@pytest.mark.parametrize("path", CORE, ids=lambda p: p.stem)
def test_the_examples_in_the_docstrings_hold(path: Path) -> None:
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0
