"""The machine finds bugs that were mended, when they are put back."""

from dataclasses import replace

import pytest
from hypothesis import Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.long import IS_LONG
from tests.machine.put_back import BUGS
from tests.machine.test_machine import SETTINGS

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.several_in_one_transaction,
    pytest.mark.usefixtures("few_draws", "expected_failures"),
    pytest.mark.timeout(3600),
]

# On every change only one that is found at once, so that the way of putting back stays true.
SOON = ("10 a link for whoever is a student now",)


def narrowed(machine, bug):
    """The machine with the rules that have to do with a bug, without the walk at the end."""
    names = bug.rules
    every = machine.setup_state()
    known = {found.function.__name__ for found in every.rules}
    assert set(names) <= known
    few = [found for found in every.rules if found.function.__name__ in names]
    kept = replace(every, rules=few)
    setup = classmethod(lambda _: kept)
    changed = {
        "walks": False, "nearest": bug.nearest, "furthest": bug.furthest, "setup_state": setup,
    }  # fmt: skip
    return type("Narrow", (machine,), changed)


@pytest.mark.parametrize("name", BUGS)
def test_what_is_put_back_has_its_place(monkeypatch, name):
    """The place where it was mended is still there, under its name."""
    BUGS[name].put_back(monkeypatch)


@pytest.mark.parametrize("name", BUGS if IS_LONG else SOON)
def test_the_machine_finds(machine, monkeypatch, name):
    bug = BUGS[name]
    bug.put_back(monkeypatch)
    machine = narrowed(machine, bug)
    searching = settings(
        SETTINGS,
        max_examples=300,
        stateful_step_count=20,
        derandomize=True,
        phases=[Phase.generate],
        report_multiple_bugs=False,
    )
    with pytest.raises(Exception, match=bug.seen_as):
        run_state_machine_as_test(machine, settings=searching)
