"""The planted student stories can be carried out and their ranges mean something.

What each is given beside the range is printed by ``python -m tests.grading.stories``.
"""

import pytest

from workups.documents import check_plan, library_exercise, library_names

from .stories import OUT_OF, STORIES


@pytest.mark.parametrize("story", STORIES, ids=lambda s: s.key)
def test_a_story_is_a_plan_that_the_form_accepts(story):
    assert check_plan(story.plan, library_exercise(story.exercise)) == []


def test_the_stories_are_many_narrow_and_about_every_exercise():
    assert len(STORIES) >= 30
    assert len({s.key for s in STORIES}) == len(STORIES)
    assert {s.exercise for s in STORIES} == set(library_names())
    assert all(0 <= s.low < s.high <= OUT_OF for s in STORIES)
    assert all(s.high - s.low <= 11 for s in STORIES)
    assert sum(s.high < OUT_OF / 3 for s in STORIES) >= 10
    assert sum(s.high == OUT_OF for s in STORIES) >= 10
