"""The core is plain Python, numpy and numba; the second simulation shares none of its code.

Formulas carry an example in their docstring, and every example is run.
"""

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
LOOKUP = sorted((ROOT / "workups" / "lookup").rglob("*.py"))
SLOW_TO_LOAD = {"chemicals", "rdkit"}
# Where a formula of the textbook, a law or a table is put into numbers.
FORMULAS = {
    "drying": ("dry_to_equilibrium", "approach", "salt_for_loose", "agent_look", "liquid_look"),
    "stripping": ("relative_volatility_of_water", "evaporate_droplets", "boil_down", "sweep"),
    "yields": ("weighing_u_g", "mass_by_difference", "percent_yield"),
    "speciation": ("balance_charge", "shares_in_water"),
    "water": ("osmotic_coefficient",),
    "layers": ("molar_gas_volume_mL", "dimer_gain"),
    "flow": ("Flow.leads_to",),
    "pouring": ("rinse_law",),
    "recovery": ("fraction_left",),
    "gel": ("most_dissolved",),
    "substances": ("Antoine.pressure_Pa", "HydrateStep.water_activity"),
}
SCALAR = sorted((Path(__file__).parent / "scalar").glob("*.py"))


def imported(path: Path) -> Iterator[str]:
    """Names of the top-level packages a module imports from outside its own package."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.split(".")[0]


@pytest.mark.parametrize("path", CORE, ids=lambda p: p.stem)
def test_the_core_needs_the_standard_library_numpy_and_numba_only(path: Path) -> None:
    compiler = {"numba"} if path.stem == "machine_code" else set()
    assert set(imported(path)) <= {*sys.stdlib_module_names, "numpy", *compiler}


@pytest.mark.parametrize("path", SCALAR, ids=lambda p: p.stem)
def test_the_scalar_simulation_shares_no_code_with_the_program(path: Path) -> None:
    assert set(imported(path)) <= {*sys.stdlib_module_names, "numpy", "scipy"}


@pytest.mark.parametrize("path", LOOKUP, ids=lambda p: p.stem)
def test_the_look_up_loads_its_libraries_only_when_asked(path: Path) -> None:
    """It knows the core and nothing of the web; a page that looks nothing up waits for nothing."""
    outside = {name for name in imported(path) if name not in sys.stdlib_module_names}
    assert outside <= {"workups", *SLOW_TO_LOAD}
    tree = ast.parse(path.read_text(encoding="utf-8"))
    named = [n.module or "" for n in ast.walk(tree)
             if isinstance(n, ast.ImportFrom) and not n.level]
    own = ("workups.chemistry", "workups.lookup", *SLOW_TO_LOAD)
    assert all(name.startswith(own) for name in named if name.split(".")[0] in outside)
    at_once = {getattr(n, "module", None) or n.names[0].name for n in tree.body
               if isinstance(n, ast.Import | ast.ImportFrom)}
    assert not {str(name).split(".")[0] for name in at_once} & SLOW_TO_LOAD


@pytest.mark.parametrize("module", sorted(FORMULAS))
def test_every_formula_carries_an_example(module: str) -> None:
    whole = importlib.import_module(f"workups.chemistry.{module}")
    for name in FORMULAS[module]:
        found = whole
        for part in name.split("."):
            found = getattr(found, part)
        assert ">>>" in (found.__doc__ or ""), name


@pytest.mark.parametrize("path", [*CORE, *LOOKUP], ids=lambda p: f"{p.parent.name}-{p.stem}")
def test_the_examples_in_the_docstrings_hold(path: Path) -> None:
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    result = doctest.testmod(importlib.import_module(name))
    assert result.failed == 0
