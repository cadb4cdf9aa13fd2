"""Compiled code: the same numbers as plain Python, under a name of all that it depends on."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from workups.chemistry import compiled, equilibrium, machine_code
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


NAMES = """
import importlib
from workups.chemistry import compiled
for module in {modules}:
    importlib.import_module(module)
for entry in compiled._entries:
    print(compiled.name_of(entry.py_func))
"""
# How many of three entries were read, and how many were made.
HITS = """
import sys
sys.prefix = {prefix!r}
from workups.chemistry import water
entries = (water._volumes, water._salts, water._activities)
print(*(sum(sum(kept.values()) for kept in column) for column in zip(
    *((s.cache_hits, s.cache_misses) for s in (e.code.stats for e in entries)))))
"""
# Root may write anywhere; without this right it is held to what files allow, as anybody.
LIKE_ANYBODY = ("setpriv", "--bounding-set", "-dac_override") if os.geteuid() == 0 else ()


def in_a_process(code: str, *before: str, **environment: str) -> str:
    # The code is ours; nothing else goes into the command.
    done = subprocess.run([*before, sys.executable, "-c", code], cwd=ROOT, check=False,
                          capture_output=True, text=True, env={**os.environ, **environment})
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_plain_python_computes_the_same_numbers() -> None:
    fast, plain = (np.array(eval(in_a_process(SHAKE, NUMBA_DISABLE_JIT=off))[0])  # noqa: S307
                   for off in ("0", "1"))
    assert fast == pytest.approx(plain, rel=1e-12, abs=1e-12)


def test_who_computes_and_prints_nothing_does_without_what_that_takes() -> None:
    """Every command would take two seconds longer."""
    found = in_a_process("import django, sys; django.setup(); import labcourse.urls\n"
                         "print({'numba', 'weasyprint', 'rdkit'} & set(sys.modules))",
                         DJANGO_SETTINGS_MODULE="labcourse.settings")
    assert found == "set()\n"


def test_a_server_has_read_all_before_its_first_request() -> None:
    begun = "import labcourse.wsgi; from workups.chemistry.compiled import _entries"
    read = in_a_process(f"{begun}; print(*('code' in vars(e) for e in _entries))").split()
    assert len(read) > 5
    assert set(read) == {"True"}


def test_nothing_is_compiled_for_other_types_at_a_call() -> None:
    """Every entry has the one signature that its annotations name, whatever was simulated since."""
    exercise = library_exercise("catch-it")
    simulate(exercise.model_plan, exercise.setup, Draws(1, 2))
    assert len(compiled._entries) > 5
    for entry in compiled._entries:
        assert len(entry.code.signatures) == 1
        assert not entry.code._can_compile


def test_what_is_compiled_at_set_up_is_every_entry() -> None:
    at_set_up = in_a_process(NAMES.format(modules=compiled.WITH_ALL_ENTRIES)).split()
    with_the_web = in_a_process(NAMES.format(modules=(
        "workups.grading.assess", "workups.grading.looking", "workups.grading.trying.trials",
        "workups.explanation.worked", "workups.documents", "workups.stock.stock"))).split()
    assert len(at_set_up) > 5
    assert set(with_the_web) <= set(at_set_up)


def test_an_installation_that_nobody_can_write_to_compiles_nothing(tmp_path: Path) -> None:
    """The machine code of a set-up is read by somebody who can write neither there nor at home."""
    kept = tmp_path / machine_code.FOLDER
    asked = HITS.format(prefix=str(tmp_path))
    assert in_a_process(asked).split() == ["0", "3"]
    before = sorted((p.name, p.stat().st_mtime_ns) for p in kept.iterdir())
    for path in (*kept.iterdir(), kept, tmp_path):
        path.chmod(0o555 if path.is_dir() else 0o444)
    again = in_a_process(asked, *LIKE_ANYBODY, HOME="/nonexistent")
    tmp_path.chmod(0o755)
    kept.chmod(0o755)
    assert again.split() == ["3", "0"]
    assert sorted((p.name, p.stat().st_mtime_ns) for p in kept.iterdir()) == before


def test_where_nothing_can_be_kept_it_works_all_the_same(tmp_path: Path) -> None:
    tmp_path.chmod(0o555)
    assert in_a_process(HITS.format(prefix=str(tmp_path)), *LIKE_ANYBODY).split() == ["0", "3"]
    tmp_path.chmod(0o755)


def test_the_name_of_machine_code_follows_a_number_that_a_part_of_it_uses(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    of = equilibrium._settled_draws.py_func
    before = compiled.stamp(of)
    assert compiled.stamp(of) == before
    monkeypatch.setattr("workups.chemistry.water.CATION_CONTRACTION_ML_MMOL", 0.007)
    assert compiled.stamp(of) != before


def test_a_draw_is_the_same_whatever_it_is_computed_with() -> None:
    exercise = library_exercise("three-in-one-bottle")
    many = simulate(exercise.model_plan, exercise.setup, Draws(3, 9))
    for first in (0, 4):
        some = simulate(exercise.model_plan, exercise.setup, Draws(3, 5, first))
        for name, flask in some.end.flasks.items():
            there = many.end.flasks[name].total()[:, first:first + 5]
            assert flask.total().tobytes() == np.ascontiguousarray(there).tobytes()
