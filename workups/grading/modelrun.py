"""Runs of an exercise's own model plan, kept for the next plan of the same exercise.

Every assessment of an exercise with the same seed starts from the same drawn constants and
compares with the same model run, so a class of plans shares it.
"""

from __future__ import annotations

from functools import lru_cache

from workups.chemistry.draws import Draws
from workups.chemistry.run import Run, continue_run, prepare
from workups.exercise.exercise import Exercise

KEPT = 12  # each exercise takes four: own and public numbers, all and few draws


class ByContent:
    """An exercise as a key: two with the same content are the same."""

    __slots__ = ("exercise",)

    def __init__(self, exercise: Exercise) -> None:
        self.exercise = exercise

    def __hash__(self) -> int:
        return hash(self.exercise.content)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, ByContent) and self.exercise.content == other.exercise.content


@lru_cache(maxsize=KEPT)
def _kept(key: ByContent, seed: int, draws: int) -> Run:
    start = prepare(key.exercise.setup, Draws(seed, draws))
    return continue_run(start, key.exercise.model_plan)


def model_run(exercise: Exercise, seed: int, draws: int) -> Run:
    """The model plan carried out, from memory where it was asked for before."""
    return _kept(ByContent(exercise), seed, draws)
