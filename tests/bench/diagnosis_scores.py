"""Scores of a diagnosis on simulated students: top three, calibration, confusion."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from workups.grading.slips import NOTHING_WRONG, SLIPS

BINS = 10
FLOOR_TRIALS = 400


@dataclass(frozen=True)
class Judgement:
    """One student: the slip that was made, and two posteriors over slips."""

    exercise: str
    slip: str
    found: Mapping[str, float]
    best: Mapping[str, float]


@dataclass(frozen=True)
class Figures:
    """How well slips were named, by groups of the same mass signature. Shares in 0..1; ``floor``
    of the calibration error is its mean were every probability exactly right."""

    students: int
    first: float
    top3: float
    error: float
    floor: float
    faultless: int
    faultless_first: float


@dataclass(frozen=True)
class Scores(Figures):
    """The figures of the diagnosis, and those of the best possible beside them."""

    first_best: float
    top3_best: float
    error_best: float
    faultless_first_best: float

    @property
    def of_optimum(self) -> float:
        """Top-three rate over the best possible."""
        return self.top3 / self.top3_best


def by_group(chances: Mapping[str, float]) -> dict[str, float]:
    """Probabilities added up over slips of the same mass signature."""
    total: dict[str, float] = defaultdict(float)
    for key, chance in chances.items():
        total[SLIPS[key].mass_group] += chance
    return dict(total)


def ordered(chances: Mapping[str, float]) -> list[str]:
    """Keys, likeliest first."""
    return sorted(chances, key=lambda k: (-chances[k], k))


def figures(slips: Sequence[str], chances: Sequence[Mapping[str, float]]) -> Figures:
    """Measure probabilities against the slips that were made."""
    truth = [SLIPS[slip].mass_group for slip in slips]
    found = [by_group(each) for each in chances]
    faultless = [each for each, slip in zip(chances, slips, strict=True) if slip == NOTHING_WRONG]
    error, floor = calibration(found, truth)
    return Figures(
        len(slips), hits(found, truth, 1), hits(found, truth, 3), error, floor, len(faultless),
        hits(faultless, [NOTHING_WRONG] * len(faultless), 1),
    )


def scores(judgements: Sequence[Judgement]) -> Scores:
    """Measure the diagnosis and the best possible."""
    slips = [j.slip for j in judgements]
    mine = figures(slips, [j.found for j in judgements])
    best = figures(slips, [j.best for j in judgements])
    return Scores(
        **vars(mine), first_best=best.first, top3_best=best.top3, error_best=best.error,
        faultless_first_best=best.faultless_first,
    )


def side_by_side(columns: Mapping[str, Figures]) -> Iterable[str]:
    """Lines of a table: the same figures of students with other habits, a column for each."""
    width = max(map(len, columns)) + 2
    yield f"{'':34}" + "".join(f"{name:>{width}}" for name in columns)
    rows: Mapping[str, Callable[[Figures], str]] = {
        "students": lambda f: str(f.students),
        "right group first": lambda f: f"{f.first:.3f}",
        "right group among three": lambda f: f"{f.top3:.3f}",
        "expected calibration error": lambda f: f"{f.error:.3f}",
        "  its noise floor": lambda f: f"{f.floor:.3f}",
        "faultless called nothing wrong": lambda f: f"{f.faultless_first:.3f} of {f.faultless}",
    }
    for title, shown in rows.items():
        yield f"{title:34}" + "".join(f"{shown(f):>{width}}" for f in columns.values())


def hits(found: Sequence[Mapping[str, float]], truth: Sequence[str], first: int) -> float:
    """Share of students whose truth is among the likeliest ``first``."""
    right = [t in ordered(f)[:first] for f, t in zip(found, truth, strict=True)]
    return float(np.mean(right)) if right else 1.0


def calibration(
    found: Sequence[Mapping[str, float]], truth: Sequence[str]
) -> tuple[float, float]:
    """Expected calibration error of the first-ranked probability in ten bins, and its floor."""
    sure = np.array([max(f.values()) for f in found])
    right = np.array([ordered(f)[0] == t for f, t in zip(found, truth, strict=True)], dtype=float)
    random = np.random.default_rng(20260101)
    trials = [
        _error(sure, (random.random(len(sure)) < sure).astype(float)) for _ in range(FLOOR_TRIALS)
    ]
    return _error(sure, right), float(np.mean(trials))


def _error(sure: np.ndarray, right: np.ndarray) -> float:
    bins = np.minimum((sure * BINS).astype(int), BINS - 1)
    total = 0.0
    for b in range(BINS):
        inside = bins == b
        if inside.any():
            total += float(inside.mean()) * abs(float(sure[inside].mean() - right[inside].mean()))
    return total


def reliability(judgements: Sequence[Judgement]) -> Iterable[str]:
    """Lines of a table: stated probability of the first-ranked group against how often right."""
    found = [by_group(j.found) for j in judgements]
    sure = np.array([max(f.values()) for f in found])
    right = np.array([ordered(f)[0] == SLIPS[j.slip].mass_group
                      for f, j in zip(found, judgements, strict=True)])
    for b in range(BINS):
        inside = (sure >= b / BINS) & (sure < (b + 1) / BINS + (b == BINS - 1))
        if inside.any():
            yield (f"{b / BINS:.1f} to {(b + 1) / BINS:.1f}  {inside.sum():5d} students  "
                   f"stated {sure[inside].mean():.2f}  right {right[inside].mean():.2f}")


def by_slip(judgements: Sequence[Judgement]) -> Iterable[str]:
    """Lines of a table: for each slip how often its group is first and among three."""
    yield f"{'slip':28}{'n':>5}{'first':>8}{'best':>8}{'top 3':>8}{'best':>8}"
    for slip in SLIPS:
        mine = [j for j in judgements if j.slip == slip]
        if not mine:
            continue
        truth = [SLIPS[slip].mass_group] * len(mine)
        rows = [[by_group(j.found) for j in mine], [by_group(j.best) for j in mine]]
        numbers = [hits(rows[r], truth, k) for k in (1, 3) for r in (0, 1)]
        yield f"{slip:28}{len(mine):5d}" + "".join(f"{v:8.2f}" for v in numbers)


def confusion(judgements: Sequence[Judgement]) -> Iterable[str]:
    """Lines of a table: true group by row, first-ranked group by column, students."""
    groups = list(dict.fromkeys(s.mass_group for s in SLIPS.values()))
    counts = Counter((SLIPS[j.slip].mass_group, ordered(by_group(j.found))[0])
                     for j in judgements)
    yield f"{'':12}" + "".join(f"{g[:8]:>9}" for g in groups)
    for row in groups:
        if any(counts[row, c] for c in groups):
            cells = "".join(f"{counts[row, c] or '·':>9}" for c in groups)
            yield f"{row:12}" + cells
