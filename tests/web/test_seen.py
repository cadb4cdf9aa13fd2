"""Two people with the same form open: the second is told what stands now, and then decides."""

import re

import pytest
from django.urls import reverse
from django.utils import timezone


@pytest.fixture
def pages(course, section, assignment):
    """Address, what the two send, and what is then stored, of every such page."""
    dates = {
        name: f"{timezone.localtime(getattr(assignment, name)):%Y-%m-%dT%H:%M}"
        for name in ("opens_at", "plan_due", "report_due")
    }
    late = dates | {"report_due": dates["report_due"][:-2] + "59"}
    return {
        "course": (
            reverse("edit-course", args=[course.public_id]),
            {"title": "First title", "term": "Autumn"},
            {"title": "Second title", "term": "Autumn"},
            lambda: type(course).objects.get(pk=course.pk).title,
        ),
        "section": (
            reverse("edit-section", args=[section.public_id]),
            {"name": "First title"},
            {"name": "Second title"},
            lambda: type(section).objects.get(pk=section.pk).name,
        ),
        "dates": (
            reverse("edit-assignment", args=[assignment.public_id]),
            dates | {"group_size": "3"},
            late | {"group_size": "1"},
            lambda: type(assignment).objects.get(pk=assignment.pk).group_size,
        ),
    }


def seal_in(page):
    return re.search(r'name="seen" value="(\w{64})"', page.content.decode())[1]


@pytest.mark.parametrize(
    ("name", "first", "second"),
    [
        ("course", "First title", "Second title"),
        ("section", "First title", "Second title"),
        ("dates", 3, 1),
    ],
)
def test_the_second_to_send_is_told_and_may_send_again(
    sign_in, instructor, pages, name, first, second
):
    url, one, other, stored = pages[name]
    client = sign_in(instructor)
    opened = seal_in(client.get(url))
    assert client.post(url, one | {"seen": opened}).status_code == 302
    told = client.post(url, other | {"seen": opened})
    assert told.status_code == 200
    assert "Somebody changed this" in told.content.decode()
    assert stored() == first
    assert client.post(url, other | {"seen": seal_in(told)}).status_code == 302
    assert stored() == second


def test_it_says_what_stands_now(sign_in, instructor, pages):
    url, one, other, _ = pages["course"]
    client = sign_in(instructor)
    opened = seal_in(client.get(url))
    client.post(url, one | {"seen": opened, "anonymous_marking": "on"})
    page = client.post(url, other | {"seen": opened}).content.decode()
    assert "Title: First title; Hide students&#x27; names while reports are marked: yes" in page
    assert 'value="Second title"' in page


def test_sending_what_one_saw_is_no_conflict(sign_in, instructor, pages):
    url, one, _, stored = pages["section"]
    client = sign_in(instructor)
    for _ in range(2):
        assert client.post(url, one | {"seen": seal_in(client.get(url))}).status_code == 302
    assert stored() == "First title"
