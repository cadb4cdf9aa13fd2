"""The machine, played from seeds: a few short runs on every change, long ones before a release."""

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.long import IS_LONG, count

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.several_in_one_transaction,
    pytest.mark.usefixtures("few_draws", "expected_failures"),
    pytest.mark.timeout(count(600, 7200)),
]

SETTINGS = settings(
    derandomize=not IS_LONG,
    database=None,
    deadline=None,
    max_examples=count(2, 30),
    stateful_step_count=count(30, 300),
    suppress_health_check=list(HealthCheck),
    phases=[Phase.generate, Phase.shrink] if IS_LONG else [Phase.generate],
    print_blob=False,
)


def test_nothing_goes_wrong_in_any_order(machine):
    run_state_machine_as_test(machine, settings=SETTINGS)
