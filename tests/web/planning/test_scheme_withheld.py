"""An exercise may leave the separation scheme to its students until they hand their plan in."""

import pytest
from django.urls import reverse

from workups.documents import library_text
from workups.services.exercises import publish_revision
from workups.services.planning import submit_plan
from workups.web.reports.sheet_views import scheme_to_print


@pytest.fixture
def revision(course, instructor):
    text = library_text("too-much-vinegar")
    own = text.replace("[policy]\n", '[policy]\nscheme = "after hand-in"\n')
    assert own != text
    return publish_revision(
        actor=instructor, course=course, key="too-much-vinegar", title="Vinegar", document=own)


def pages(client, work):
    names = ("build-plan", "print-plan")
    urls = [reverse(name, args=[work.public_id]) for name in names]
    checked = client.post(reverse("self-check", args=[work.public_id]))
    return [client.get(url).content.decode() for url in (*urls, checked.url)]


def test_the_scheme_comes_with_the_hand_in(sign_in, student, planned_work, few_draws):
    client = sign_in(student)
    assert not any("Separation scheme" in page for page in pages(client, planned_work))
    plan = planned_work.to_core().model_plan
    assert scheme_to_print(planned_work, plan) is None
    submit_plan(actor=student, work=planned_work, base_version=1)
    assert all("Separation scheme" in page for page in pages(client, planned_work))
    on_paper = scheme_to_print(planned_work, plan)
    assert on_paper is not None
    assert "product" in on_paper.text

    planned_work.assignment.feedback_attempts = 2
    counted = scheme_to_print(planned_work, plan)
    assert counted is not None
    assert "product" not in counted.text
