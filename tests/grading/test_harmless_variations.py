"""Random harmless variations of library model plans lose nothing.

15 of a few exercises by default; LONG_TESTS=1 (see ``.ci/long``) takes 200 of every one.
"""

from __future__ import annotations

from collections import Counter

import pytest

from tests.long import count, exercises
from workups.documents import library_exercise, library_names
from workups.grading.assess import assess

from .planted import HEAVY, check, findings
from .variations import VARIATIONS, varied

COUNT = count(10, 200)
DRAWS = 24


@pytest.mark.parametrize("seed", range(COUNT))
@pytest.mark.parametrize("name", exercises(library_names()))
def test_a_harmless_variation_is_not_accused(name: str, seed: int) -> None:
    exercise = library_exercise(name)
    plan, said = varied(exercise, seed)
    assert said
    assert plan != exercise.model_plan
    result = assess(exercise, plan, draws=DRAWS)
    heavy = [(f.code, f.step, f.message) for f in findings(result) if f.strength in HEAVY]
    assert heavy == [], said
    charged = [(f.code, f.step, f.message) for f in check(result, "order").findings
               if f.score_loss > 0]
    assert charged == [], said
    assert check(result, "order").score == 1.0


@pytest.mark.parametrize("name", library_names())
def test_every_route_that_an_exercise_calls_right_keeps_all_points(name: str) -> None:
    exercise = library_exercise(name)
    for route in (exercise.model_plan, *exercise.alternatives):
        result = assess(exercise, route, draws=DRAWS)
        assert [(f.code, f.step) for f in findings(result) if f.charged] == []
        assert all(c.score == 1.0 for c in result.checks)


@pytest.mark.parametrize("name", library_names())
def test_the_seeds_try_every_variation_that_applies(name: str) -> None:
    exercise = library_exercise(name)
    used = Counter(v for seed in range(200) for v in varied(exercise, seed)[1])
    never = sorted(set(VARIATIONS) - set(used))
    # A variation may not apply to an exercise: one extraction of one portion has no portions to
    # part, a powder cannot be decanted.
    assert len(never) <= 4, never
    assert len({varied(exercise, seed)[0] for seed in range(200)}) > 150
