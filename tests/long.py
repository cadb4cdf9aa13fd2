"""Whether this is the long run before a release (`bash .ci/long`), with its larger counts."""

import os

IS_LONG = os.environ.get("LONG_TESTS") == "1"


def count(short: int, long: int) -> int:
    """How often to repeat something: less on every change than in the long run."""
    return long if IS_LONG else short


# Of different kinds: an ester out of acid, three compounds apart, an ether out of base.
A_FEW = ("plain-ether", "three-in-one-bottle", "too-much-vinegar")


def exercises(names: tuple[str, ...]) -> tuple[str, ...]:
    """Which library exercises a heavy test goes through: a few, all of them in the long run."""
    return names if IS_LONG else tuple(n for n in names if n in A_FEW)
