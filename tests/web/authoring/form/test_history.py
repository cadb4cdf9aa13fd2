"""Every change of a draft can be taken back, and taking back is a change like any other."""

import pytest
from django.urls import reverse

from workups.documents import library_text
from workups.models import DraftState
from workups.services.drafts import change_draft, start_draft

TEXT = library_text("too-much-vinegar")


@pytest.fixture
def draft(course, instructor):
    """With three versions."""
    begun = start_draft(actor=instructor, course=course, document=TEXT)
    for number in (1, 2):
        begun = change_draft(
            actor=instructor, draft=begun, change=lambda now, n=number: f"{now.document}# {n}\n"
        )
    return begun


def go_back(client, draft, to_version, version, **more):
    url = reverse("return-to-state", args=[draft.public_id])
    return client.post(url, {"to_version": to_version, "version": version, **more})


def test_undo_goes_back_to_the_part_and_undo_again_brings_it_back(sign_in, instructor, draft):
    client = sign_in(instructor)
    page = client.get(reverse("edit-part", args=[draft.public_id, "bench"]))
    assert page.context["undo_to"] == 2
    response = go_back(client, draft, 2, 3, part="bench")
    assert response.url == reverse("edit-part", args=[draft.public_id, "bench"])
    draft.refresh_from_db()
    assert draft.document == f"{TEXT}# 1\n"
    go_back(client, draft, 3, 4)
    draft.refresh_from_db()
    assert draft.document.endswith("# 1\n# 2\n")


def test_the_history_lists_every_state_and_who_made_it(sign_in, instructor, draft):
    page = sign_in(instructor).get(reverse("show-draft-history", args=[draft.public_id]))
    text = page.content.decode()
    assert "version 3" in text
    assert "Go back to it" in text
    assert "Iris Instructor" in text
    assert [state.version for state in page.context["states"]] == [2, 1]


@pytest.mark.parametrize(
    ("to_version", "version", "said"),
    [
        (9, 3, "not kept any more"),
        (1, 2, "changed the draft meanwhile"),
        ("x", 3, "could not be read"),
    ],
)
def test_what_cannot_be_gone_back_to_changes_nothing(
    sign_in, instructor, draft, to_version, version, said
):
    client = sign_in(instructor)
    response = go_back(client, draft, to_version, version)
    assert said in client.get(response.url, follow=True).content.decode()
    draft.refresh_from_db()
    assert draft.version == 3


def test_the_oldest_of_very_many_states_go(monkeypatch, instructor, draft):
    monkeypatch.setattr("workups.services.drafts.KEPT_STATES", 2)
    monkeypatch.setattr("workups.services.drafts._STATES_GO_EVERY", 1)
    change_draft(actor=instructor, draft=draft, change=lambda now: f"{now.document}# 3\n")
    assert sorted(DraftState.objects.values_list("version", flat=True)) == [2, 3]
