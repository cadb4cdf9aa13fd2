"""Two schemes side by side: which vessels of the one stand where in the other, and what differs."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

from workups.chemistry.plan import Plan
from workups.exercise.exercise import Exercise
from workups.grading.assessment import StepReport
from workups.sheets.scheme.structure import Scheme, Vessel, scheme_of
from workups.sheets.scheme.words import Words
from workups.words.numbers import percent, rounded

WORTH_MARKING = 0.01
# A volume is otherwise where it differs by this share of the larger one.
_OTHER_VOLUME = 0.15
_LEAST_ML = 0.5


@dataclass(frozen=True)
class Side:
    """One of two plans: what it is called in a few words ("planned"), its steps and what they do;
    ``remarks`` as for a scheme."""

    name: str
    plan: Plan
    reports: Sequence[StepReport]
    remarks: Mapping[str, Sequence[str]]


@dataclass(frozen=True)
class Difference:
    """A node that is not the same in both: where, and what stands there in each."""

    where: str
    one: str
    other: str


@dataclass(frozen=True)
class Compared:
    """Both schemes in words, each node marked that is otherwise in the other, and the differences
    as they follow from top to bottom."""

    one: Words
    other: Words
    differences: tuple[Difference, ...]


def compared(exercise: Exercise, one: Side, other: Side, *, shares_only: bool) -> Compared:
    """Two plans held against each other, vessel by vessel.

    A vessel stands for another where the same kind of step with the same material leads to it, in
    the same order; names of flasks do not matter.
    """
    targets = [target.substance for target in exercise.setup.targets]
    first, second = (
        Words(scheme_of(side.plan, targets, side.reports), exercise, shares_only, side.remarks)
        for side in (one, other))
    marked: tuple[dict[int, str], dict[int, str]] = ({}, {})
    differences = []
    for i, j in _pairs(first.scheme, second.scheme):
        if i is None:
            marked[1][j or 0] = f"not so {one.name}"
            differences.append(Difference(_where(second, j or 0), "–", _told(second, j or 0)))
        elif j is None:
            marked[0][i] = f"not so {other.name}"
            differences.append(Difference(_where(first, i), _told(first, i), "–"))
        elif said := _otherwise(first, i, second, j):
            marked[0][i] = f"{other.name}: {said[1]}"
            marked[1][j] = f"{one.name}: {said[0]}"
            differences.append(Difference(_where(first, i), *said))
    return Compared(_marked(first, marked[0]), _marked(second, marked[1]), tuple(differences))


def _pairs(one: Scheme, other: Scheme) -> Iterator[tuple[int | None, int | None]]:
    """Vessels that stand for each other, from the top down; None where there is none."""
    keys = [[_kind(scheme, i) for i in range(len(scheme.vessels))] for scheme in (one, other)]
    matcher = SequenceMatcher(a=keys[0], b=keys[1], autojunk=False)
    for verb, a0, a1, b0, b1 in matcher.get_opcodes():
        if verb == "equal":
            yield from zip(range(a0, a1), range(b0, b1), strict=True)
        else:
            yield from ((i, None) for i in range(a0, a1))
            yield from ((None, j) for j in range(b0, b1))


def _kind(scheme: Scheme, vessel: int) -> tuple[str, ...]:
    """What makes a vessel the same in another plan: the step that leads to it, with its materials,
    and whether the plan goes on with it."""
    seen = scheme.vessels[vessel]
    if seen.at < 0:
        return ("start",)
    step = scheme.plan.steps[seen.at]
    is_kept = seen.flask in step.carries_on_in() or seen.flask in step.takes()
    return (step.verb, *(use.material for use in step.uses() if not use.is_rinse),
            "kept" if is_kept else "aside")


def _otherwise(one: Words, i: int, other: Words, j: int) -> tuple[str, str] | None:
    """What is told of two vessels that stand for each other, if it is not the same."""
    first, second = one.scheme.vessels[i], other.scheme.vessels[j]
    if not (first.shares and second.shares):
        return None
    gaps = [abs(a - b) for a, b in zip(first.shares, second.shares, strict=True)]
    differs = [n for n, gap in enumerate(gaps) if gap >= WORTH_MARKING]
    parts = [(_share(one, first, n), _share(other, second, n)) for n in differs]
    volumes = _volume(first), _volume(second)
    if abs(volumes[0] - volumes[1]) > max(_LEAST_ML, _OTHER_VOLUME * max(volumes)):
        parts.append((rounded(volumes[0], "mL", 2), rounded(volumes[1], "mL", 2)))
    if first.layer != second.layer:
        parts.append((f"{first.layer} layer", f"{second.layer} layer"))
    if not parts:
        return None
    return ", ".join(a for a, _ in parts), ", ".join(b for _, b in parts)


def _share(words: Words, vessel: Vessel, target: int) -> str:
    name = words.target(target) if words.has_several else "product"
    return f"{name} {percent(vessel.shares[target])}"


def _volume(vessel: Vessel) -> float:
    return sum(phase.volume_mL for phase in vessel.phases if phase.phase != "solid")


def _where(words: Words, i: int) -> str:
    vessel = words.scheme.vessels[i]
    if vessel.at < 0:
        return "Start"
    step = words.scheme.plan.steps[vessel.at]
    return f"{step.title}, ‘{vessel.flask}’"


def _told(words: Words, i: int) -> str:
    vessel = words.scheme.vessels[i]
    return ", ".join([*words.contents(vessel), *words.shares(vessel)]) or "nothing"


def _marked(words: Words, marks: Mapping[int, str]) -> Words:
    vessels = tuple(
        replace(vessel, differs=marks.get(i, ""))
        for i, vessel in enumerate(words.scheme.vessels))
    return replace(words, scheme=replace(words.scheme, vessels=vessels))
