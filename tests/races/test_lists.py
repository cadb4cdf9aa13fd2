"""Every service that writes is raced, or stands here with why it is not."""

import importlib
import inspect
import pkgutil

from tests.races import actions
from workups import services

# Called by services that are raced, in their transaction.
PARTS = """
new_to_assess begin_assessing assessed gave_up close_record join_bench open_review reopen_accepted
start_work start_missing_works take_works_along move_unstarted assign_revision publish_revision
start_draft change_draft begin_try
"""
# What is not about a work or its exercise: a person's own account, a course's list of words.
ELSEWHERE = """
set_password change_email begin_second_step drop_second_step sign_out_everywhere lift_sign_in_stop
sign_out_device sign_out_other_devices sign_everybody_out drop_remark edit_course edit_section
set_archived set_outside_ids export_gradebook
"""
# Raced by their pages, as double clicks.
BY_PAGES = "open_course add_section duplicate_exercise"
NOT_RACED = "drop_report mark_compared"
LISTED = frozenset(f"{PARTS} {ELSEWHERE} {BY_PAGES} {NOT_RACED}".split())


def writing() -> set[str]:
    """The services that are one transaction, by name."""
    found = set()
    for info in pkgutil.walk_packages(services.__path__, "workups.services."):
        module = importlib.import_module(info.name)
        for name, function in inspect.getmembers(module, inspect.isfunction):
            own = function.__module__ == info.name and not name.startswith("_")
            if own and hasattr(function, "__wrapped__"):
                found.add(name)
    return found - {"computing"}  # a context manager


def test_every_service_that_writes_is_raced_or_said_not_to_be():
    source = inspect.getsource(actions)
    assert len(writing()) > 60
    raced = {name for name in writing() if f".{name}(" in source}
    assert writing() - raced - LISTED == set()
    assert LISTED - writing() == set()
