"""Whether this is the long run before a release (`bash .ci/long`), with its larger counts."""

import os

IS_LONG = os.environ.get("LONG_TESTS") == "1"


def count(short: int, long: int) -> int:
    """How often to repeat something: less on every change than in the long run."""
    return long if IS_LONG else short
