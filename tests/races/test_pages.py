"""Two browsers that send at the same moment what only one of them may have stored unasked."""

from random import Random

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from tests.long import count
from tests.races.interleave import Pair
from tests.races.stage import Stage
from tests.races.world import set_up
from tests.web.test_seen import seal_in
from workups.models import Course, ExerciseDraft, Section

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("few_draws"),
    pytest.mark.timeout(count(600, 3600)),
    pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one lock for all"),
]
ROUNDS = count(8, 200)


@pytest.fixture
def world(course, section, other_section, instructor, ta, revision, terms):
    return set_up(course, section, other_section, instructor, ta, revision, terms)


@pytest.fixture
def browsers(world):
    world.instructor.may_open_courses = True
    world.instructor.save()
    found = [Client(), Client()]
    for browser in found:
        browser.force_login(world.instructor)
    return found


def meet(stage, browsers, posts, seed=1):
    """Both posts at once, round by round; gives the two answers of each. The first stops before
    each of its points in turn, and begins anew after the last of them."""
    pair, random, at = Pair(), Random(seed), 0  # noqa: S311
    try:
        for _ in range(ROUNDS):
            stage.put_back()
            at += 1
            acts = [lambda b=b, p=p: b.post(*p()) for b, p in zip(browsers, posts, strict=True)]
            done = pair.run(*acts, at, random.choice((0, 3, 5)))
            at = at if pair.one_came_to_it else 0
            for outcome in done:
                if outcome.error is not None:
                    raise outcome.error
            yield [outcome.value for outcome in done]
    finally:
        pair.close()


SEEN_PAGES = {
    "CourseForm": ("edit-course", lambda w: w.course, "title", {"term": "Autumn"}),
    "SectionForm": ("edit-section", lambda w: w.section, "name", {}),
}


@pytest.mark.parametrize("name", SEEN_PAGES)
def test_of_two_who_change_the_same_one_is_told(name, world, browsers):
    url_name, of, field, more = SEEN_PAGES[name]
    url = reverse(url_name, args=[of(world).public_id])
    shown = seal_in(browsers[0].get(url))
    stage = Stage()
    posts = [
        lambda words=words: (url, {field: words, "seen": shown, **more})
        for words in ("First title", "Second title")
    ]
    for answers in meet(stage, browsers, posts):
        assert sorted(answer.status_code for answer in answers) == [200, 302]
        stored = getattr(type(of(world)).objects.get(pk=of(world).pk), field)
        winner = next(i for i, answer in enumerate(answers) if answer.status_code == 302)
        assert stored == ("First title", "Second title")[winner]
    stage.close()


DOUBLE_CLICKS = {
    "open a course": (
        lambda _: (reverse("open-course"), {"title": "New", "term": "Spring"}),
        lambda: Course.objects.filter(title="New").count(),
    ),
    "copy a course": (
        lambda w: (
            reverse("copy-course", args=[w.course.public_id]),
            {"title": "New", "term": "Spring", "weeks_later": "26"},
        ),
        lambda: Course.objects.filter(title="New").count(),
    ),
    "add a section": (
        lambda w: (reverse("add-section", args=[w.course.public_id]), {"name": "Friday"}),
        lambda: Section.objects.filter(name="Friday").count(),
    ),
    "revise an exercise": (
        lambda w: (reverse("revise-exercise", args=[w.revision.public_id]), {}),
        ExerciseDraft.objects.count,
    ),
    "copy an exercise": (
        lambda w: (reverse("duplicate-exercise", args=[w.revision.public_id]), {}),
        ExerciseDraft.objects.count,
    ),
    "begin with a blank form": (
        lambda w: (reverse("add-exercise", args=[w.course.public_id]), {"blank": "yes"}),
        ExerciseDraft.objects.count,
    ),
}


@pytest.mark.parametrize("what", DOUBLE_CLICKS)
def test_a_double_click_makes_one(what, world, browsers):
    post, how_many = DOUBLE_CLICKS[what]
    stage = Stage()
    for answers in meet(stage, browsers, [lambda: post(world)] * 2):
        assert all(answer.status_code < 400 for answer in answers)
        assert how_many() == 1
    stage.close()
