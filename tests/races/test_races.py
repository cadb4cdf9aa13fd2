"""Each two things that can be done to the same work, done at once, many times.

What may come of it: both are stored, or one is told why it is not (an exception of the services,
which pages answer with a sentence). What may not: an error of the database or the program, a lost
row, or a state that does not hold (`invariants.py`). Stages, people and actions stand in `world.py`
and `actions.py`; the points at which one comes between the other in `interleave.py`.
"""

import os
import traceback
from collections.abc import Iterable
from itertools import combinations_with_replacement, islice
from itertools import count as from_number
from random import Random

import pytest
from django.core.exceptions import ObjectDoesNotExist, ValidationError
from django.db import connection

from tests.long import IS_LONG, count
from tests.races.actions import ACTIONS, Action
from tests.races.interleave import Outcome, Pair
from tests.races.invariants import broken, missing
from tests.races.stage import Stage
from tests.races.world import STAGES, World, set_up
from workups.services.refusals import Refused

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.timeout(count(1200, 6 * 3600)),
    pytest.mark.usefixtures("few_draws", "expected_failures"),
    pytest.mark.skipif(
        connection.vendor != "postgresql", reason="SQLite has one lock for all: nothing to meet"
    ),
]
# The short run tries one schedule of one pair in twelve of each stage; the long one all there are.
SOME = count(12, 1)
# To look at some pairs alone: RACES="accept_report+release_section revise+revise"
ONLY = [frozenset(pair.split("+")) for pair in os.environ.get("RACES", "").split()]


@pytest.fixture
def world(course, section, other_section, instructor, ta, revision, terms) -> World:
    return set_up(course, section, other_section, instructor, ta, revision, terms)


@pytest.mark.parametrize("name", STAGES)
def test_no_two_at_once_leave_what_does_not_hold(name, world):
    STAGES[name](world)
    stage, pair = Stage(), Pair()
    failures: dict[str, str] = {}
    rounds = pairs = apart = 0
    try:
        every = combinations_with_replacement(ACTIONS[name], 2)
        for one, other in islice(every, 0, None, 1 if ONLY else SOME):
            if ONLY and frozenset((one.__name__, other.__name__)) not in ONLY:
                continue
            pairs += 1
            if IS_LONG and are_apart(pair, stage, world, one, other):
                apart += 1
                continue
            for what in meet(pair, stage, world, one, other):
                rounds += 1
                for sentence in what:
                    failures.setdefault(f"{one.__name__} + {other.__name__}: {sentence}", "")
            if IS_LONG:
                so_far = f"{name}: {one.__name__} + {other.__name__}, {pairs} pairs, {apart} apart"
                print(f"\n{so_far}, {rounds} rounds, {len(failures)} failures")  # noqa: T201
    finally:
        pair.close()
        stage.close()
    assert not failures, "\n".join(failures)


def are_apart(pair: Pair, stage: Stage, world: World, *acts: Action) -> bool:
    """Whether neither writes where the other reads or writes, each seen alone."""
    seen = []
    for act in acts:
        stage.put_back()
        seen.append(pair.alone(lambda a=act: a(world)))
    return seen[0].is_apart_from(seen[1])


def meet(pair: Pair, stage: Stage, world: World, one: Action, other: Action):
    """Rounds of one pair; gives what does not hold after each.

    In the long run every schedule of the two is tried once: the first stops before each of its
    points in turn, and the other goes on to each of its own, as far as it comes before it waits
    for the first. Later points make no other schedule. The short run draws one.
    """
    random = Random(f"{one.__name__} {other.__name__}")  # noqa: S311
    stage.put_back()
    for first, second in [(one, other), (other, one)][: 1 if one is other or not IS_LONG else 2]:
        for at in _points_of(random):
            for then in _points_of(random):
                done = pair.run(lambda f=first: f(world), lambda s=second: s(world), at, then)
                yield [*refused_wrongly(*done), *broken(world), *lost(*done)]
                stage.put_back(done[0].wrote | done[1].wrote)
                if not pair.other_came_to_it:
                    break
            if not pair.one_came_to_it:
                break


def _points_of(random: Random) -> Iterable[int]:
    return from_number(1) if IS_LONG else [random.randint(1, 6)]


def refused_wrongly(*outcomes: Outcome) -> list[str]:
    """Errors that no page answers with a sentence."""
    return [
        f"{type(error).__name__}: {' '.join(str(error).split())}"[:400]
        for error in (o.error for o in outcomes)
        if error is not None and not is_answered(error)
    ]


def is_answered(error: BaseException) -> bool:
    """A refusal, a name that is taken, or a row that was gone when the page looked for it (404)."""
    if isinstance(error, Refused):
        return True
    if isinstance(error, ValidationError):
        return "already has a variant of that name" in str(error)
    frames = [frame.filename for frame in traceback.extract_tb(error.__traceback__)]
    return isinstance(error, ObjectDoesNotExist) and not any("services" in f for f in frames)


def lost(*outcomes: Outcome) -> list[str]:
    return [sentence for o in outcomes if o.error is None for sentence in missing(o.value)]
