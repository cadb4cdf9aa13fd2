"""The page that copies a course for a new term."""

import pytest
from django.urls import reverse

from workups.models import Course

FORM = {"title": "Organic Laboratory II", "term": "Spring", "weeks_later": "20"}


@pytest.fixture
def url(course):
    return reverse("copy-course", args=[course.public_id])


@pytest.fixture
def opener(instructor):
    instructor.may_open_courses = True
    instructor.save()
    return instructor


def test_the_course_is_copied_and_its_dates_are_next(sign_in, opener, course, assignment, url):
    client = sign_in(opener)
    settings = client.get(reverse("edit-course", args=[course.public_id])).content.decode()
    assert url in settings
    page = client.post(url, FORM | {"archive_old": "on"}, follow=True).content.decode()
    assert "Organic Laboratory II, Spring is open." in page
    assert "Too much vinegar" in page
    course.refresh_from_db()
    assert course.is_archived


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"term": "Autumn"}, "Title and term together tell courses apart"),
        ({"weeks_later": "0"}, "greater than or equal to 1"),
        ({"weeks_later": "soon"}, "Enter a whole number"),
        ({"title": ""}, "required"),
    ],
)
def test_what_cannot_be_is_said(sign_in, opener, course, url, change, says):
    page = sign_in(opener).post(url, FORM | change).content.decode()
    assert says in page
    assert Course.objects.count() == 1


def test_it_takes_the_right_to_open_courses(
    sign_in, leads_to_sign_in, instructor, ta, student, outsider, url
):
    assert leads_to_sign_in(url)
    codes = [sign_in(p).get(url).status_code for p in (instructor, ta, student, outsider)]
    assert codes == [403, 403, 403, 404]
