"""Changes to plan data, without a database."""

import pytest

from workups.services.plan_edits import (
    NoSuchStep,
    add_step,
    move_step,
    new_step_id,
    put_step,
    remove_step,
)

PLAN = {"steps": [{"id": i, "verb": "stand"} for i in ("a", "b", "c")]}


def ids(data):
    return "".join(step["id"] for step in data["steps"])


@pytest.mark.parametrize(
    ("step", "by", "expected"),
    [("a", 1, "bac"), ("c", -1, "acb"), ("a", -1, "abc"), ("c", 1, "abc"), ("a", 5, "bca")],
)
def test_a_step_moves_as_far_as_there_are_places(step, by, expected):
    assert ids(move_step(step, by, "").apply(PLAN)) == expected


@pytest.mark.parametrize(("after", "expected"), [("a", "axbc"), ("", "abcx"), ("gone", "abcx")])
def test_a_step_is_added_after_another_or_at_the_end(after, expected):
    assert ids(add_step({"id": "x", "verb": "cool"}, "", after).apply(PLAN)) == expected


def test_removing_and_putting_name_a_step_that_is_not_there():
    for edit in (remove_step("z", ""), put_step({"id": "z", "verb": "cool"}, "")):
        with pytest.raises(NoSuchStep):
            edit.apply(PLAN)


def test_the_data_a_change_starts_from_is_left_alone():
    remove_step("a", "").apply(PLAN)
    assert ids(PLAN) == "abc"


def test_a_new_id_is_one_that_no_step_has():
    assert new_step_id(PLAN) == "s4"
    assert new_step_id({"steps": [{"id": "s2", "verb": "cool"}]}) == "s3"


def test_a_step_that_is_added_twice_is_one_and_two_of_one_id_are_two():
    once = add_step({"id": "x", "verb": "cool"}, "").apply(PLAN)
    assert add_step({"id": "x", "verb": "cool", "to_C": 0}, "").apply(once) == once
    both = add_step({"id": "x", "verb": "wash"}, "").apply(once)
    assert [step["verb"] for step in both["steps"][3:]] == ["cool", "wash"]
    assert len({step["id"] for step in both["steps"]}) == 5
