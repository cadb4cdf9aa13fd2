"""Each two things that can be done to the same work, done at once, many times.

What may come of it: both are stored, or one is told why it is not (an exception of the services,
which pages answer with a sentence). What may not: an error of the database or the program, a lost
row, or a state that does not hold (`invariants.py`). Stages, people and actions stand in `world.py`
and `actions.py`; the points at which one comes between the other in `interleave.py`.
"""

import os
import traceback
from itertools import combinations_with_replacement, islice
from random import Random

import pytest
from django.core.exceptions import ObjectDoesNotExist, ValidationError
from django.db import connection

from tests.long import count
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
ROUNDS = int(os.environ.get("ROUNDS", count(1, 200)))
# The short run tries one pair in twelve of each stage, the long one all.
SOME = count(12, 1)
# To look at one pair alone: RACES=accept_report+release_section
ONLY = os.environ.get("RACES", "")


@pytest.fixture
def world(course, section, other_section, instructor, ta, revision, terms) -> World:
    return set_up(course, section, other_section, instructor, ta, revision, terms)


@pytest.mark.parametrize("name", STAGES)
def test_no_two_at_once_leave_what_does_not_hold(name, world):
    STAGES[name](world)
    stage, pair = Stage(), Pair()
    failures: dict[str, str] = {}
    rounds = pairs = 0
    try:
        every = combinations_with_replacement(ACTIONS[name], 2)
        for one, other in islice(every, 0, None, 1 if ONLY else SOME):
            if ONLY and {one.__name__, other.__name__} != set(ONLY.split("+")):
                continue
            pairs += 1
            for what in meet(pair, stage, world, one, other):
                rounds += 1
                for sentence in what:
                    failures.setdefault(f"{one.__name__} + {other.__name__}: {sentence}", "")
    finally:
        pair.close()
        stage.close()
    print(f"\n{name}: {pairs} pairs, {rounds} rounds, {len(failures)} failures")  # noqa: T201
    assert not failures, "\n".join(failures)


def meet(pair: Pair, stage: Stage, world: World, one: Action, other: Action):
    """Rounds of one pair, with points drawn anew."""
    random = Random(f"{one.__name__} {other.__name__}")  # noqa: S311
    points = {one: 6, other: 6}  # until it is known how many there are
    for number in range(ROUNDS):
        stage.put_back()
        first, second = (one, other) if number % 2 == 0 else (other, one)
        at = random.randint(1, points[first])
        then = random.choice((0, random.randint(1, points[second])))
        done = pair.run(lambda f=first: f(world), lambda s=second: s(world), at, then)
        for act, outcome in zip((first, second), done, strict=True):
            points[act] = max(1, outcome.points) if not outcome.error else points[act]
        yield [*refused_wrongly(*done), *broken(world), *lost(*done)]


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
