"""The same inputs give the same assessment to the last byte, in any process, with any hash seed."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from workups.documents import assessment_to_data, library_exercise, load_plan, load_readings
from workups.grading.assess import assess
from workups.grading.assessment import Assessment

from .planted import DATA, exercise

ROOT = Path(__file__).parents[2]
PLAN, READINGS = "too-little-agent", "as-planned"
DRAWS = 40

# A plan with findings, with its readings, so that the diagnosis is in it too.
IN_ANOTHER_PROCESS = f"""
import sys
from pathlib import Path
sys.path.insert(0, {str(ROOT)!r})
from tests.grading.test_same_everywhere import everything_here
sys.stdout.buffer.write(everything_here())
"""


def as_bytes(assessment: Assessment) -> bytes:
    """An assessment as it is stored: plain data, in JSON, in the order it was made."""
    return json.dumps(assessment_to_data(assessment)).encode()


def assessed_here() -> Assessment:
    """A planted plan with readings, assessed in this process."""
    plan = load_plan((DATA / "plans" / f"{PLAN}.toml").read_text())
    readings = load_readings((DATA / "readings" / f"{READINGS}.toml").read_text())
    return assess(exercise(), plan, readings, draws=DRAWS)


@cache
def everything_here() -> bytes:
    """The planted plan, and a separation with three products and several faults."""
    three = library_exercise("three-in-one-bottle")
    take_base = three.model_plan.steps[three.model_plan.index("take-base")]
    faulty = three.model_plan.replacing(replace(take_base, portions=1, volume_mL=3.0))
    faulty = faulty.without("label-a", "label-b", "tare-a", "dry-l")
    return as_bytes(assessed_here()) + as_bytes(assess(three, faulty, draws=DRAWS))


def _elsewhere(hash_seed: str) -> bytes:
    surroundings = {**os.environ, "PYTHONHASHSEED": hash_seed}
    done = subprocess.run(
        [sys.executable, "-c", IN_ANOTHER_PROCESS], env=surroundings, cwd=ROOT,
        capture_output=True, check=True, timeout=100)
    return done.stdout


@pytest.mark.parametrize("hash_seed", ["0", "1", "4294967295"])
def test_another_process_with_another_hash_seed_gives_the_same_bytes(hash_seed: str) -> None:
    here = everything_here()
    there = _elsewhere(hash_seed)
    assert len(here) > 10_000
    assert hashlib.sha256(there).hexdigest() == hashlib.sha256(here).hexdigest()
    assert there == here


def test_what_was_computed_before_makes_no_difference() -> None:
    first = as_bytes(assessed_here())
    assess(library_exercise("plain-ether"), draws=DRAWS, seed=7)
    assert as_bytes(assessed_here()) == first


def test_another_seed_gives_another_assessment() -> None:
    ours = exercise()
    assert as_bytes(assess(ours, draws=DRAWS, seed=1)) != as_bytes(
        assess(ours, draws=DRAWS, seed=2))
