"""Compiled code: the same numbers as plain Python, under a name of all that it depends on."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from workups.chemistry import compiled, equilibrium, water
from workups.chemistry.draws import Draws
from workups.chemistry.run import simulate
from workups.documents import library_exercise

ROOT = Path(__file__).parents[2]
SHAKE = """
from workups.chemistry.contact import contact
from workups.chemistry.draws import Draws
from workups.chemistry.materials import components_per_mL
from workups.chemistry.run import prepare
from workups.documents import library_exercise
run = prepare(library_exercise("plain-ether").setup, Draws(1, 2))
inv = run.inventory
mixed = run.start.everything() + 30.0 * (components_per_mL(inv, "water")[:, None]
    + components_per_mL(inv, "diethyl_ether")[:, None])
found = contact(inv, mixed, capacity_mL=250.0)
print(repr([found.split.organic.tolist(), found.split.ln_h.tolist(), found.stoppered_Pa.tolist()]))
"""


def in_a_process(code: str, **environment: str) -> str:
    # The code is ours; nothing else goes into the command.
    return subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True,
                          text=True, env={**os.environ, **environment}).stdout


def test_plain_python_computes_the_same_numbers() -> None:
    fast, plain = (np.array(eval(in_a_process(SHAKE, NUMBA_DISABLE_JIT=off))[0])  # noqa: S307
                   for off in ("0", "1"))
    assert fast == pytest.approx(plain, rel=1e-12, abs=1e-12)


def test_nothing_is_compiled_at_a_call() -> None:
    """Every entry has its one signature from its import on, whatever was simulated since."""
    exercise = library_exercise("catch-it")
    simulate(exercise.model_plan, exercise.setup, Draws(1, 2))
    for entry in (equilibrium._settled_draws, water._volumes):
        assert len(entry.signatures) == 1
        assert not entry._can_compile


def test_the_name_of_machine_code_follows_a_number_that_a_part_of_it_uses(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    of = equilibrium._settled_draws.py_func
    before = compiled._stamp(of)
    assert compiled._stamp(of) == before
    monkeypatch.setattr("workups.chemistry.water.CATION_CONTRACTION_ML_MMOL", 0.007)
    assert compiled._stamp(of) != before


def test_a_draw_is_the_same_whatever_it_is_computed_with() -> None:
    exercise = library_exercise("three-in-one-bottle")
    many = simulate(exercise.model_plan, exercise.setup, Draws(3, 9))
    for first in (0, 4):
        some = simulate(exercise.model_plan, exercise.setup, Draws(3, 5, first))
        for name, flask in some.end.flasks.items():
            there = many.end.flasks[name].total()[:, first:first + 5]
            assert flask.total().tobytes() == np.ascontiguousarray(there).tobytes()
