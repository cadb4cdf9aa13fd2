"""The planted student stories get about what a fair marker would give.

What each is given beside the range is printed by ``python -m tests.grading.stories``. Every
seventh on every change, all of them with LONG_TESTS=1 (see ``.ci/long``).
"""

import pytest

from tests.long import IS_LONG
from workups.documents import check_plan, library_exercise, library_names

from .contradictions import contradictions
from .stories import CLOSE, OUT_OF, STORIES, beside, total

# Further than five points from the range, and who is thought to be wrong.
DISPUTED = {
    "strong-acid-quench": "either: the range counts on more contact than the simulation has, and "
                          "the rate is so uncertain that little of the loss is sure",
}
MARKED = STORIES if IS_LONG else STORIES[::7]


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


@pytest.mark.parametrize(
    "story", [s for s in MARKED if s.key not in DISPUTED], ids=lambda s: s.key)
def test_a_story_is_marked_within_five_points_of_a_fair_marker(story):
    assessment = story.assessed()
    given = total(assessment)
    assert abs(beside(story, given)) <= CLOSE, f"{given:.1f}, {story.low} to {story.high}"
    assert contradictions(assessment) == []


def test_no_more_than_one_story_in_ten_is_disputed():
    assert set(DISPUTED) <= {s.key for s in STORIES}
    assert len(DISPUTED) <= len(STORIES) / 10
