import logging
from collections.abc import Iterator

import pytest

from tests.machine.course_machine import CourseMachine
from tests.machine.world import build_world


@pytest.fixture
def machine() -> type[CourseMachine]:
    """The machine over a course of its own."""
    return type("Course", (CourseMachine,), {"world": build_world()})


@pytest.fixture(autouse=True)
def _quiet() -> Iterator[None]:
    """A run is refused thousands of pages; nobody reads of each."""
    logging.disable(logging.ERROR)
    yield
    logging.disable(logging.NOTSET)
